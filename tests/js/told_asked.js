// What the app makes of the server's sentences: read from standard input as {tag, said, texts}, told one a line as JSON.
import { readFileSync } from "node:fs";
import { speak, told } from "../../pwa/lib/language.js";

const { tag, said, texts } = JSON.parse(readFileSync(0, "utf-8"));
speak(tag, {}, said);
process.stdout.write(JSON.stringify(texts.map((text) => told(text))));
