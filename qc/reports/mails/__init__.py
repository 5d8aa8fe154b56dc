"""What the server's mails say: the pages' own sentences, open criticals first, in plain lines."""
