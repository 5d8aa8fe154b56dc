"""The tables: the journal, what is derived from it, and the ordered migrations that made them.

Journal and accounts are kept; projections and summaries can be dropped and rebuilt from the journal at any time.
Instants are milliseconds since 1970 UTC; days are ISO dates of the plant's production calendar.
"""

JOURNAL = """
CREATE TABLE journal (
  number INTEGER PRIMARY KEY AUTOINCREMENT,
  id TEXT NOT NULL UNIQUE,
  device TEXT NOT NULL,
  install_epoch TEXT NOT NULL,
  seq INTEGER NOT NULL CHECK (seq >= 1),
  kind TEXT NOT NULL,
  unit TEXT,
  author TEXT NOT NULL,
  author_standing TEXT NOT NULL, -- role at receipt, a lead's stations after ':'; '' when the author was unknown
  happened_ms INTEGER NOT NULL,
  received_ms INTEGER NOT NULL,
  clock_suspect INTEGER NOT NULL CHECK (clock_suspect IN (0, 1)),
  admission TEXT NOT NULL,
  plant_revision TEXT NOT NULL,
  rules INTEGER NOT NULL, -- the rule set in force at receipt, so that a later one settles it the same way
  bytes BLOB NOT NULL,
  previous BLOB NOT NULL CHECK (length(previous) = 32),
  hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;
-- A number used twice by one installation (a phone restored from a copy) is kept, in quarantine.
CREATE UNIQUE INDEX journal_stream ON journal (device, install_epoch, seq) WHERE admission <> 'sequence_reused';
CREATE INDEX journal_unit ON journal (unit, number);
CREATE TRIGGER journal_no_update BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
CREATE TRIGGER journal_no_delete BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
CREATE TABLE plant_revision (
  revision TEXT PRIMARY KEY,
  since_number INTEGER NOT NULL,
  tables TEXT NOT NULL
) STRICT;
CREATE TABLE store_setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
"""

# Kept, not derived: the frozen copy of a unit's story as it stood when it was signed.
RELEASES = """
CREATE TABLE release_record (
  id TEXT PRIMARY KEY,
  unit TEXT NOT NULL,
  signed_by TEXT NOT NULL,
  against TEXT NOT NULL,
  open_digest TEXT NOT NULL,
  released_ms INTEGER NOT NULL,
  story TEXT NOT NULL,
  story_digest TEXT NOT NULL,
  number INTEGER NOT NULL
) STRICT;
CREATE INDEX release_unit ON release_record (unit, number);
CREATE TRIGGER release_record_no_update BEFORE UPDATE ON release_record
BEGIN SELECT RAISE(ABORT, 'a release record is frozen'); END;
CREATE TRIGGER release_record_no_delete BEFORE DELETE ON release_record
BEGIN SELECT RAISE(ABORT, 'a release record is frozen'); END;
"""

ACCOUNTS = """
CREATE TABLE person (
  code TEXT PRIMARY KEY,
  name TEXT NOT NULL,
  role TEXT NOT NULL,
  stations TEXT NOT NULL DEFAULT '[]',
  secret_hash TEXT NOT NULL,
  ended INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE TABLE device (
  code TEXT PRIMARY KEY,
  first_seen_ms INTEGER NOT NULL,
  last_seen_ms INTEGER NOT NULL,
  clock_offset_ms INTEGER NOT NULL DEFAULT 0,
  revoked INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE TABLE sign_in (
  session TEXT PRIMARY KEY,
  person TEXT NOT NULL REFERENCES person (code),
  device TEXT NOT NULL,
  purpose TEXT NOT NULL CHECK (purpose IN ('phone', 'page')),
  token_hash TEXT NOT NULL UNIQUE,
  begun_ms INTEGER NOT NULL,
  used_ms INTEGER NOT NULL,
  ends_ms INTEGER NOT NULL
) STRICT;
CREATE TABLE sign_in_try (
  person TEXT NOT NULL,
  device TEXT NOT NULL,
  failed INTEGER NOT NULL,
  last_ms INTEGER NOT NULL,
  PRIMARY KEY (person, device)
) STRICT;
"""

PROJECTIONS = """
CREATE TABLE verdict (
  number INTEGER PRIMARY KEY,
  verdict TEXT NOT NULL CHECK (verdict IN ('applied', 'refused', 'parked', 'quarantined')),
  code TEXT NOT NULL DEFAULT '',
  reason TEXT NOT NULL DEFAULT '',
  place INTEGER UNIQUE, -- order of coming into effect, 1, 2, 3…; NULL while it has none
  since INTEGER -- number of the operation whose arrival brought it into effect: its own unless it was parked
) STRICT;
CREATE TABLE parked (
  waits_for TEXT NOT NULL,
  number INTEGER NOT NULL,
  PRIMARY KEY (waits_for, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE stream (
  device TEXT NOT NULL,
  install_epoch TEXT NOT NULL,
  next_seq INTEGER NOT NULL,
  PRIMARY KEY (device, install_epoch)
) STRICT, WITHOUT ROWID;

CREATE TABLE unit (
  chassis TEXT PRIMARY KEY,
  shop_number TEXT NOT NULL UNIQUE,
  sequence INTEGER NOT NULL,
  model TEXT NOT NULL,
  options TEXT NOT NULL DEFAULT '[]',
  build_sheet TEXT,
  planned_day TEXT NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('planned', 'on_line', 'at_end_points', 'in_rework', 'released')),
  alarm TEXT NOT NULL DEFAULT '',
  released_ms INTEGER,
  released_by TEXT,
  last_number INTEGER NOT NULL
) STRICT;
CREATE INDEX unit_last_number ON unit (last_number);
CREATE INDEX unit_sequence ON unit (sequence);

CREATE TABLE station_pass (
  unit TEXT NOT NULL,
  station TEXT NOT NULL,
  passed_ms INTEGER NOT NULL,
  production_day TEXT NOT NULL,
  number INTEGER NOT NULL,
  PRIMARY KEY (unit, station)
) STRICT, WITHOUT ROWID;

CREATE TABLE inspection (
  id TEXT PRIMARY KEY,
  unit TEXT NOT NULL,
  point TEXT NOT NULL,
  purpose TEXT NOT NULL,
  presentation INTEGER NOT NULL,
  inspector TEXT NOT NULL,
  device TEXT NOT NULL,
  light TEXT NOT NULL,
  weather TEXT,
  begun_ms INTEGER NOT NULL,
  ended_ms INTEGER,
  production_day TEXT,
  shift TEXT,
  clean_all INTEGER,
  clean_major INTEGER,
  number INTEGER NOT NULL
) STRICT;
CREATE INDEX inspection_unit ON inspection (unit, point, begun_ms);
CREATE INDEX inspection_day ON inspection (production_day, point);

CREATE TABLE zone_look (
  inspection TEXT NOT NULL,
  zone TEXT NOT NULL,
  looked INTEGER NOT NULL CHECK (looked IN (0, 1)),
  reason TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  number INTEGER NOT NULL,
  PRIMARY KEY (inspection, zone)
) STRICT, WITHOUT ROWID;

CREATE TABLE defect (
  id TEXT PRIMARY KEY,
  unit TEXT NOT NULL,
  model TEXT NOT NULL,
  inspection TEXT,
  point TEXT NOT NULL,
  first_presentation INTEGER NOT NULL CHECK (first_presentation IN (0, 1)),
  zone TEXT NOT NULL,
  type TEXT NOT NULL,
  severity TEXT NOT NULL CHECK (severity IN ('critical', 'major', 'minor')),
  note TEXT NOT NULL DEFAULT '',
  mark TEXT,
  found_ms INTEGER NOT NULL,
  production_day TEXT NOT NULL,
  shift TEXT NOT NULL,
  finder TEXT NOT NULL,
  device TEXT NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('open', 'repaired', 'closed', 'withdrawn')),
  cycles INTEGER NOT NULL DEFAULT 0,
  repair_minutes INTEGER NOT NULL DEFAULT 0,
  repaired_by TEXT,
  rechecked_by TEXT,
  withdrawn_why TEXT,
  duplicate_of TEXT,
  linked_to TEXT,
  suspected TEXT,
  confirmed TEXT,
  origin_state TEXT NOT NULL CHECK (origin_state IN ('none', 'suspected', 'confirmed', 'disputed', 'settled')),
  origin_ms INTEGER,
  work_day TEXT,
  work_day_basis TEXT NOT NULL DEFAULT '' CHECK (work_day_basis IN ('', 'scan', 'lead')),
  changed_also_by TEXT NOT NULL DEFAULT '[]',
  number INTEGER NOT NULL,
  received_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX defect_unit ON defect (unit, number);
CREATE INDEX defect_found ON defect (production_day);
CREATE INDEX defect_suspected ON defect (suspected, production_day);
CREATE INDEX defect_confirmed ON defect (confirmed, work_day);

CREATE TABLE defect_photo (
  defect TEXT NOT NULL,
  sha256 TEXT NOT NULL,
  view TEXT,
  number INTEGER NOT NULL,
  PRIMARY KEY (defect, sha256)
) STRICT, WITHOUT ROWID;
CREATE TABLE defect_change (
  defect TEXT NOT NULL,
  field TEXT NOT NULL,
  number INTEGER NOT NULL,
  author TEXT NOT NULL,
  value TEXT NOT NULL, -- JSON
  PRIMARY KEY (defect, field, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE defect_repair (
  repair TEXT NOT NULL,
  defect TEXT NOT NULL,
  number INTEGER NOT NULL,
  cycle INTEGER NOT NULL,
  repairer TEXT NOT NULL,
  method TEXT NOT NULL,
  minutes INTEGER NOT NULL,
  repaired_ms INTEGER NOT NULL,
  PRIMARY KEY (defect, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE test_result (
  id TEXT PRIMARY KEY,
  unit TEXT NOT NULL,
  test TEXT NOT NULL,
  point TEXT NOT NULL,
  inspection TEXT,
  value REAL,
  passed INTEGER NOT NULL CHECK (passed IN (0, 1)),
  instrument TEXT NOT NULL,
  calibrated_until TEXT,
  tester TEXT NOT NULL,
  tested_ms INTEGER NOT NULL,
  production_day TEXT NOT NULL,
  voided_by TEXT,
  number INTEGER NOT NULL
) STRICT;
CREATE INDEX test_result_unit ON test_result (unit, test, number);
CREATE TABLE change_note (
  id TEXT PRIMARY KEY,
  station TEXT NOT NULL,
  change TEXT NOT NULL,
  what TEXT NOT NULL,
  types TEXT NOT NULL DEFAULT '[]',
  from_day TEXT NOT NULL,
  noted_by TEXT NOT NULL,
  number INTEGER NOT NULL
) STRICT;
CREATE TABLE dirty_day (production_day TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
"""

# ended_day, ended_by: the manager's word that ended it early, NULL where it ends by itself.
MUTES = """
CREATE TABLE signal_mute (
  id TEXT PRIMARY KEY,
  station TEXT NOT NULL,
  type TEXT NOT NULL,
  direction TEXT NOT NULL CHECK (direction IN ('up', 'down')),
  reason TEXT NOT NULL,
  from_day TEXT NOT NULL,
  until TEXT NOT NULL CHECK (until > from_day),
  muted_by TEXT NOT NULL,
  ended_day TEXT,
  ended_by TEXT,
  number INTEGER NOT NULL,
  CHECK ((ended_day IS NULL) = (ended_by IS NULL))
) STRICT;
"""

# What waits, whenever it was found: read by what is open, so that the years do not count.
BACKLOGS = """
CREATE INDEX defect_open_origin
    ON defect (origin_state, production_day, suspected, point, first_presentation, model, shift)
 WHERE origin_state IN ('none', 'suspected', 'disputed') AND state <> 'withdrawn';
CREATE INDEX defect_repair_done ON defect_repair (repaired_ms);
CREATE INDEX release_done ON release_record (released_ms);
"""

# What alarms said before: holds are not kept, so that "on hold" said more than is so.
ALARM_WORDS = """
UPDATE unit
   SET alarm = replace(replace(alarm,
         'The release is stale: the unit is on hold until somebody has looked at it again and it is released anew.',
         'That release is no longer in force: the unit is not released until somebody has looked at it again and it '
         || 'is released anew.'),
         'The unit is on hold: whoever has it must be told; look at it before it is used.',
         'The record still says released, and it keeps no holds: whoever has the unit must be told, and it must be '
         || 'looked at before it is used.')
 WHERE alarm <> '';
"""

PHOTOS = """
CREATE TABLE photo (
  sha256 TEXT PRIMARY KEY,
  bytes INTEGER NOT NULL,
  media_type TEXT NOT NULL,
  width INTEGER NOT NULL,
  height INTEGER NOT NULL,
  received_ms INTEGER NOT NULL
) STRICT;
"""

SIGNATURES = """
CREATE TABLE release_key (
  key_id TEXT PRIMARY KEY,
  public BLOB NOT NULL CHECK (length(public) = 32),
  since_number INTEGER NOT NULL,
  vouched_by TEXT,
  voucher BLOB,
  CHECK ((vouched_by IS NULL) = (voucher IS NULL))
) STRICT;
CREATE TABLE release_signature (
  release TEXT PRIMARY KEY,
  key_id TEXT NOT NULL,
  signature BLOB NOT NULL CHECK (length(signature) = 64)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER release_key_no_update BEFORE UPDATE ON release_key
BEGIN SELECT RAISE(ABORT, 'a release key is kept as it was'); END;
CREATE TRIGGER release_key_no_delete BEFORE DELETE ON release_key
BEGIN SELECT RAISE(ABORT, 'a release key is kept as it was'); END;
CREATE TRIGGER release_signature_no_update BEFORE UPDATE ON release_signature
BEGIN SELECT RAISE(ABORT, 'a release record is frozen'); END;
CREATE TRIGGER release_signature_no_delete BEFORE DELETE ON release_signature
BEGIN SELECT RAISE(ABORT, 'a release record is frozen'); END;
"""

# The quality manager's last word on an operation that was set aside. number: its own; word: that of the word.
QUARANTINE = """
CREATE TABLE quarantine_word (
  number INTEGER PRIMARY KEY,
  outcome TEXT NOT NULL CHECK (outcome IN ('taken', 'left')),
  author TEXT NOT NULL,
  reason TEXT NOT NULL,
  word INTEGER NOT NULL
) STRICT;
CREATE INDEX verdict_quarantined ON verdict (number) WHERE verdict = 'quarantined';
"""

# What proves who made the operations first..last: their author's signature over their hashes, with the certificate
# that the server gave; certificate "" where the server itself vouches, for what is done on a page.
PROOFS = """
CREATE TABLE author_run (
  first INTEGER PRIMARY KEY,
  last INTEGER NOT NULL CHECK (last >= first),
  certificate TEXT NOT NULL,
  key_id TEXT NOT NULL,
  hashes BLOB NOT NULL,
  signature BLOB NOT NULL CHECK (length(signature) = 64)
) STRICT;
CREATE TRIGGER author_run_no_update BEFORE UPDATE ON author_run
BEGIN SELECT RAISE(ABORT, 'a proof is kept as it was'); END;
CREATE TRIGGER author_run_no_delete BEFORE DELETE ON author_run
BEGIN SELECT RAISE(ABORT, 'a proof is kept as it was'); END;
"""

# What waits for a word on its origin is a small part of the record: kept apart, so that it alone is read.
UNSETTLED = """
CREATE INDEX defect_unsettled ON defect (suspected, origin_state, production_day)
 WHERE origin_state IN ('suspected', 'disputed') AND state <> 'withdrawn';
"""

# What phones told of the history that they had seen acknowledged and that the record does not hold; by epoch, as a
# restored record is another history, and phones know it.
HISTORY_ALARMS = """
CREATE TABLE history_alarm (
  server_epoch TEXT NOT NULL,
  device TEXT NOT NULL,
  size INTEGER NOT NULL,
  head TEXT NOT NULL,
  person TEXT NOT NULL, -- who was signed in on that phone
  first_ms INTEGER NOT NULL,
  last_ms INTEGER NOT NULL,
  PRIMARY KEY (server_epoch, device)
) STRICT, WITHOUT ROWID;
"""

# taken_back: the operation that took the result back as a slip; NULL while it stands.
RETESTS = """
ALTER TABLE test_result ADD COLUMN beyond TEXT NOT NULL DEFAULT '' CHECK (beyond IN ('', 'above', 'below'));
ALTER TABLE test_result ADD COLUMN again TEXT NOT NULL DEFAULT '';
ALTER TABLE test_result ADD COLUMN taken_back TEXT;
"""

CIRCLES = """
ALTER TABLE defect_photo ADD COLUMN circle TEXT; -- JSON, shares of the photo: left, top, right, bottom
"""

WRONG_TRIES = """
DROP TABLE sign_in_try; -- forgotten after a day anyhow
CREATE TABLE sign_in_try (
  person TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('phone', 'browser', 'stranger')),
  place TEXT NOT NULL,
  failed INTEGER NOT NULL,
  last_ms INTEGER NOT NULL,
  PRIMARY KEY (person, kind, place)
) STRICT;
CREATE INDEX sign_in_try_place ON sign_in_try (kind, place, failed, last_ms);
CREATE INDEX sign_in_try_last ON sign_in_try (last_ms);
CREATE TABLE wrong_try (
  person TEXT NOT NULL, -- '' where nobody has the code that was given
  kind TEXT NOT NULL CHECK (kind IN ('phone', 'browser', 'stranger')),
  place TEXT NOT NULL,
  first_ms INTEGER NOT NULL,
  last_ms INTEGER NOT NULL,
  tries INTEGER NOT NULL,
  PRIMARY KEY (person, kind, place, first_ms)
) STRICT;
CREATE INDEX wrong_try_person ON wrong_try (person, last_ms);
"""

# People and phones are derived from operations; what operations do not hold is kept beside them.
ROSTER = """
CREATE TABLE person_secret ( -- the salted form that a secret is checked against; person.secret is its SHA-256
  person TEXT PRIMARY KEY,
  kept TEXT NOT NULL
) STRICT;
INSERT INTO person_secret (person, kept) SELECT code, secret_hash FROM person WHERE secret_hash <> '';
ALTER TABLE person DROP COLUMN secret_hash;
ALTER TABLE person ADD COLUMN secret TEXT NOT NULL DEFAULT '';
ALTER TABLE person ADD COLUMN passphrase INTEGER NOT NULL DEFAULT 0 CHECK (passphrase IN (0, 1));
ALTER TABLE person ADD COLUMN secret_by TEXT NOT NULL DEFAULT '';
ALTER TABLE person ADD COLUMN secret_ms INTEGER NOT NULL DEFAULT 0;
ALTER TABLE person ADD COLUMN number INTEGER NOT NULL DEFAULT 0;
DELETE FROM sign_in; -- of before there were seals: everybody signs in anew
ALTER TABLE sign_in ADD COLUMN seal TEXT NOT NULL DEFAULT ''; -- the server's signature over what never changes
CREATE TABLE device_seen ( -- when somebody signed in on a phone: kept for people to read
  device TEXT PRIMARY KEY,
  last_ms INTEGER NOT NULL
) STRICT;
INSERT INTO device_seen (device, last_ms) SELECT code, last_seen_ms FROM device;
ALTER TABLE device RENAME COLUMN first_seen_ms TO enrolled_ms;
ALTER TABLE device DROP COLUMN last_seen_ms;
ALTER TABLE device DROP COLUMN clock_offset_ms;
ALTER TABLE device ADD COLUMN enrolled_by TEXT NOT NULL DEFAULT '';
ALTER TABLE device ADD COLUMN secret TEXT NOT NULL DEFAULT ''; -- SHA-256 of what the phone keeps, '' for none yet
ALTER TABLE device ADD COLUMN number INTEGER NOT NULL DEFAULT 0;
"""

CANCELLED = """
CREATE TABLE unit_anew ( -- as before, with one more state
  chassis TEXT PRIMARY KEY,
  shop_number TEXT NOT NULL UNIQUE,
  sequence INTEGER NOT NULL,
  model TEXT NOT NULL,
  options TEXT NOT NULL DEFAULT '[]',
  build_sheet TEXT,
  planned_day TEXT NOT NULL,
  state TEXT NOT NULL
    CHECK (state IN ('planned', 'on_line', 'at_end_points', 'in_rework', 'released', 'cancelled')),
  alarm TEXT NOT NULL DEFAULT '',
  released_ms INTEGER,
  released_by TEXT,
  last_number INTEGER NOT NULL
) STRICT;
INSERT INTO unit_anew
SELECT chassis, shop_number, sequence, model, options, build_sheet, planned_day, state, alarm, released_ms, released_by,
       last_number
  FROM unit;
DROP TABLE unit;
ALTER TABLE unit_anew RENAME TO unit;
CREATE INDEX unit_last_number ON unit (last_number);
CREATE INDEX unit_sequence ON unit (sequence);
CREATE INDEX unit_planned ON unit (planned_day);
"""

ENROLMENT = """
CREATE TABLE enrolment ( -- an administrator's offer to a phone; taken once, else over by itself
  letters_hash TEXT PRIMARY KEY,
  made_ms INTEGER NOT NULL,
  ends_ms INTEGER NOT NULL,
  device TEXT NOT NULL, -- the phone meant, '' for one more
  author TEXT NOT NULL,
  session TEXT NOT NULL,
  at_console TEXT NOT NULL
) STRICT;
"""

DEVICE_WORDS = """
CREATE TABLE device_word ( -- what a phone said of itself as it last pulled: signed by nobody, for people to read
  device TEXT PRIMARY KEY,
  at_ms INTEGER NOT NULL,
  app TEXT NOT NULL,
  waiting INTEGER NOT NULL,
  behind_ms INTEGER NOT NULL -- how far its clock stood behind the server's
) STRICT;
"""

# The tokens of machines are derived from operations; when one was last used, and wrong ones, are kept beside them.
MACHINES = """
CREATE TABLE machine (
  code TEXT PRIMARY KEY,
  may TEXT NOT NULL, -- JSON, the scopes
  in_name_of TEXT NOT NULL,
  secret TEXT NOT NULL, -- SHA-256 of the token
  made_by TEXT NOT NULL,
  made_ms INTEGER NOT NULL,
  ended INTEGER NOT NULL CHECK (ended IN (0, 1)),
  number INTEGER NOT NULL
) STRICT;
CREATE TABLE machine_seen ( -- when a token was last used: kept for people to read
  machine TEXT PRIMARY KEY,
  last_ms INTEGER NOT NULL
) STRICT;
CREATE TABLE token_try ( -- tokens that open nothing, by address
  address TEXT PRIMARY KEY,
  first_ms INTEGER NOT NULL,
  last_ms INTEGER NOT NULL,
  tries INTEGER NOT NULL
) STRICT;
"""

# Files of the drop folder that were taken or refused: written with what they enter, so that none is entered twice.
DROPS = """
CREATE TABLE drop_file (
  name TEXT NOT NULL,
  size INTEGER NOT NULL,
  mtime_ns INTEGER NOT NULL,
  digest TEXT NOT NULL, -- SHA-256
  at_ms INTEGER NOT NULL,
  outcome TEXT NOT NULL CHECK (outcome IN ('taken', 'refused')),
  words TEXT NOT NULL,
  PRIMARY KEY (name, size, mtime_ns, digest)
) STRICT;
"""

# Addresses are personal and may be asked to be forgotten: they stand beside the accounts, in no operation.
MAIL = """
CREATE TABLE mail_wish ( -- who asked to be mailed what, and where
  person TEXT PRIMARY KEY,
  address TEXT NOT NULL,
  daily INTEGER NOT NULL CHECK (daily IN (0, 1)),
  monday INTEGER NOT NULL CHECK (monday IN (0, 1)),
  asked_ms INTEGER NOT NULL
) STRICT;
CREATE TABLE mail_sent ( -- what became of each mail that was due
  person TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('daily', 'monday')),
  day TEXT NOT NULL, -- on which it was due
  due_ms INTEGER NOT NULL,
  state TEXT NOT NULL CHECK (state IN ('waiting', 'handing_over', 'sent', 'refused', 'unknown', 'missed')),
  tries INTEGER NOT NULL,
  at_ms INTEGER NOT NULL, -- of the last try, or of what was found of it
  words TEXT NOT NULL, -- why it is not sent
  PRIMARY KEY (person, kind, day)
) STRICT;
CREATE INDEX mail_sent_due ON mail_sent (due_ms);
"""

REVISIONS = """
CREATE TABLE plant_change ( -- which tables of the plant followed which; the tables themselves stand in plant_revision
  id TEXT PRIMARY KEY,
  revision TEXT NOT NULL,
  previous TEXT NOT NULL,
  reason TEXT NOT NULL,
  from_day TEXT NOT NULL,
  revised_by TEXT NOT NULL,
  at_console TEXT NOT NULL, -- the account under which a command ran, '' on a page
  revised_ms INTEGER NOT NULL,
  number INTEGER NOT NULL
) STRICT;
"""

GRADES = """
ALTER TABLE defect ADD COLUMN grade TEXT NOT NULL DEFAULT ''; -- which of the plant's own severities, '' for none said
"""

LANGUAGES = """
CREATE TABLE person_language ( -- which language each person has chosen; who has chosen none stands in no row
  person TEXT PRIMARY KEY,
  language TEXT NOT NULL -- a tag of BCP 47
) STRICT;
"""

LOTS = """
ALTER TABLE defect ADD COLUMN lot TEXT NOT NULL DEFAULT ''; -- of the part that it is on, '' where nobody said
CREATE INDEX defect_lot ON defect (lot) WHERE lot <> '';
"""

ROLES_TOGETHER = """
ALTER TABLE person ADD COLUMN also TEXT NOT NULL DEFAULT '[]'; -- further roles, beside the first
"""

MET = """
ALTER TABLE unit ADD COLUMN met_by TEXT; -- who met a unit that no plan holds yet, NULL where one does
"""
