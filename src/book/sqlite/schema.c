/* Steps of the schema, one a version, never changed once released, and the check of a file's structure against what
 * these steps make: object by object, word by word. */
#include "book/sqlite/schema.h"
#include "base/error.h"
#include "base/uuid.h"
#include "base/zone.h"
#include "book/sql.h"
#include "book/sqlite/sqlite.h"
#include "book/store.h"
#include <string.h>

/* Columns of step 9 for one table: who a row is wherever it goes. Rows of before get their name from the book's identity,
 * their table, number and time, so that two copies of a book brought up apart agree on it; `made` and `day` are columns
 * with the instant at which it was made and of the day that it belongs to. */
#define KEY(key) "(SELECT value FROM setting WHERE key = '" key "')"
#define NAMED(table, made)                                                                         \
  "ALTER TABLE " table " ADD COLUMN uid TEXT NOT NULL DEFAULT '';"                                 \
  "ALTER TABLE " table " ADD COLUMN cell TEXT NOT NULL DEFAULT '';"                                \
  "ALTER TABLE " table " ADD COLUMN writer TEXT NOT NULL DEFAULT '';"                              \
  "UPDATE " table                                                                                  \
  " SET uid = ew_uid(" KEY("identity") ", '" table "', id, " made "), cell = " KEY(                \
      "cell_uid") ", writer = (SELECT uid FROM writer);"                                           \
                  "CREATE UNIQUE INDEX " table "_uid ON " table "(uid);"
#define DATED(table, day) "UPDATE " table " SET day = ew_day(" KEY("zone") ", " day ");"
#define ORIGIN(table, made, day)                                                                   \
  "ALTER TABLE " table " ADD COLUMN day TEXT NOT NULL DEFAULT '';" NAMED(table, made)              \
      DATED(table, day)

/* "enginewright 1.2.3, reduction 4", as programs before step 11 wrote it. */
#define REDUCTION_IN(text)                                                                         \
  "CASE WHEN instr(" text ", ', reduction ') > 0 THEN CAST(substr(" text ", instr(" text           \
  ", ', reduction ') + 12) AS INTEGER) ELSE 0 END"

static const char *const steps[] = {
    /* 1 */
    "CREATE TABLE setting (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;"
    "CREATE TABLE engine (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, yaml TEXT NOT NULL,"
    " added_at TEXT NOT NULL) STRICT;"
    "CREATE TABLE recording (id INTEGER PRIMARY KEY, engine_id INTEGER REFERENCES engine(id),"
    " name TEXT NOT NULL, bytes BLOB NOT NULL, sha256 TEXT NOT NULL, rows INTEGER NOT NULL,"
    " channels INTEGER NOT NULL, channel_map TEXT, run_s REAL, added_at TEXT NOT NULL) STRICT;"
    "CREATE INDEX recording_sha256 ON recording(sha256);"
    "CREATE TABLE pull (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES "
    "recording(id),"
    " engine_id INTEGER REFERENCES engine(id), part INTEGER NOT NULL, kind TEXT NOT NULL,"
    " at TEXT NOT NULL, run INTEGER NOT NULL, day TEXT NOT NULL, mounting INTEGER NOT NULL,"
    " purpose TEXT NOT NULL, setup TEXT NOT NULL, changed TEXT, discarded TEXT,"
    " top_rpm REAL, band_mean_n_m REAL, UNIQUE (recording_id, part)) STRICT;"
    "CREATE INDEX pull_engine ON pull(engine_id, id);"
    "CREATE TABLE curve (pull_id INTEGER PRIMARY KEY REFERENCES pull(id), method TEXT NOT NULL,"
    " cell TEXT NOT NULL, engine TEXT NOT NULL, digest TEXT NOT NULL, bytes BLOB NOT NULL,"
    " program TEXT NOT NULL) STRICT;"
    "CREATE TABLE verdict (id INTEGER PRIMARY KEY, at TEXT NOT NULL, engine_id INTEGER REFERENCES "
    "engine(id),"
    " question TEXT NOT NULL, pair TEXT NOT NULL, pulls TEXT NOT NULL, says TEXT NOT NULL, json "
    "TEXT NOT NULL) STRICT;"
    "CREATE INDEX verdict_pair ON verdict(pair);"
    "CREATE TABLE channel_map (source TEXT PRIMARY KEY, yaml TEXT NOT NULL, at TEXT NOT NULL) "
    "STRICT;"
    "CREATE TABLE calibration (id INTEGER PRIMARY KEY, kind TEXT NOT NULL, at TEXT NOT NULL,"
    " valid_until TEXT, value REAL, json TEXT NOT NULL, note TEXT) STRICT;"
    "CREATE TABLE change_log (id INTEGER PRIMARY KEY, at TEXT NOT NULL, who TEXT NOT NULL, what "
    "TEXT NOT NULL,"
    " detail TEXT NOT NULL) STRICT;",
    /* 2: live recordings. A stream is a recording whose rows stand in blocks; a block's id is its
     * recording's times 2^32 plus its number in it, so that appending touches one tree. */
    "CREATE TABLE stream (recording_id INTEGER PRIMARY KEY REFERENCES recording(id),"
    " source TEXT NOT NULL, channels TEXT NOT NULL, durability TEXT NOT NULL,"
    " began_at TEXT NOT NULL, ended_at TEXT, how TEXT, rows INTEGER) STRICT;"
    "CREATE TABLE stream_block (id INTEGER PRIMARY KEY,"
    " recording_id INTEGER NOT NULL REFERENCES stream(recording_id), rows INTEGER NOT NULL,"
    " first_s REAL, last_s REAL, stored_at TEXT NOT NULL, bytes BLOB NOT NULL,"
    " sha256 TEXT NOT NULL) STRICT;"
    "CREATE TABLE stream_pull (recording_id INTEGER NOT NULL REFERENCES stream(recording_id),"
    " cut_id INTEGER NOT NULL UNIQUE REFERENCES recording(id), from_s REAL NOT NULL,"
    " to_s REAL NOT NULL, near TEXT NOT NULL) STRICT;"
    "CREATE TABLE mark (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES "
    "stream(recording_id),"
    " at TEXT NOT NULL, time_s REAL NOT NULL, text TEXT NOT NULL) STRICT;"
    "CREATE TABLE alarm_trip (id INTEGER PRIMARY KEY, recording_id INTEGER NOT NULL REFERENCES "
    "stream(recording_id),"
    " at TEXT NOT NULL, time_s REAL NOT NULL, from_s REAL NOT NULL, to_s REAL NOT NULL,"
    " name TEXT NOT NULL, action TEXT NOT NULL, says TEXT NOT NULL, value REAL, bound REAL) "
    "STRICT;",
    /* 3: build records */
    "CREATE TABLE build (id INTEGER PRIMARY KEY, engine_id INTEGER NOT NULL REFERENCES engine(id),"
    " name TEXT NOT NULL, started_at TEXT NOT NULL) STRICT;"
    "CREATE INDEX build_engine ON build(engine_id, id);"
    "CREATE TABLE build_record (id INTEGER PRIMARY KEY, build_id INTEGER NOT NULL REFERENCES "
    "build(id), kind TEXT NOT NULL, item TEXT, position TEXT, batch TEXT, serial TEXT, number TEXT,"
    " at TEXT NOT NULL, who TEXT NOT NULL, yaml TEXT NOT NULL, withdrawn TEXT) STRICT;"
    "CREATE INDEX build_record_build ON build_record(build_id, kind, id);"
    "CREATE INDEX build_record_batch ON build_record(lower(batch));"
    "CREATE TABLE attachment (id INTEGER PRIMARY KEY, build_id INTEGER NOT NULL REFERENCES "
    "build(id), name TEXT NOT NULL, media TEXT NOT NULL, bytes_count INTEGER NOT NULL,"
    " sha256 TEXT NOT NULL, note TEXT, at TEXT NOT NULL, who TEXT NOT NULL, bytes BLOB NOT NULL,"
    " UNIQUE (build_id, sha256)) STRICT;",
    /* 4: attachments belong to whatever they show, and can be taken back; notes of the day */
    "CREATE TABLE attachment_of_any (id INTEGER PRIMARY KEY, belongs TEXT NOT NULL,"
    " owner_id INTEGER NOT NULL, place TEXT NOT NULL, name TEXT NOT NULL, media TEXT NOT NULL,"
    " bytes_count INTEGER NOT NULL, sha256 TEXT NOT NULL, note TEXT, at TEXT NOT NULL,"
    " who TEXT NOT NULL, withdrawn TEXT, bytes BLOB NOT NULL,"
    " UNIQUE (belongs, owner_id, place, sha256)) STRICT;"
    "INSERT INTO attachment_of_any SELECT id, 'build', build_id, '', name, media, bytes_count,"
    " sha256, note, at, who, NULL, bytes FROM attachment;"
    "DROP TABLE attachment;"
    "ALTER TABLE attachment_of_any RENAME TO attachment;"
    "CREATE TABLE note (id INTEGER PRIMARY KEY, day TEXT NOT NULL, at TEXT NOT NULL,"
    " who TEXT NOT NULL, text TEXT NOT NULL, kept_at TEXT NOT NULL, withdrawn TEXT,"
    " UNIQUE (at, text)) STRICT;"
    "CREATE INDEX note_day ON note(day, at);",
    /* 5: a book is known from another of its name; a file kept later says when it was taken. The
     * identity goes with a copy: a backup is the same book. */
    "INSERT INTO setting (key, value) VALUES ('identity', lower(hex(randomblob(16))));"
    "ALTER TABLE attachment ADD COLUMN taken_at TEXT;",
    /* 6: a recording says when it was measured, which may be long before it was added. Curves stored
     * from here on hold keys where they held numbers (curve_blob.c reads both). */
    "ALTER TABLE recording ADD COLUMN measured_at TEXT;"
    "UPDATE recording SET measured_at = (SELECT min(at) FROM pull WHERE recording_id = "
    "recording.id);",
    /* 7: a trip has its time on the clock of each recording that ran with it, so that it is found in the pull
     * it happened in; what was found when somebody looked */
    "CREATE TABLE trip_time (trip_id INTEGER NOT NULL REFERENCES alarm_trip(id), recording_id "
    "INTEGER NOT NULL REFERENCES stream(recording_id), time_s REAL NOT NULL,"
    " PRIMARY KEY (trip_id, recording_id)) STRICT;"
    "INSERT INTO trip_time SELECT id, recording_id, time_s FROM alarm_trip;"
    "CREATE INDEX trip_time_recording ON trip_time(recording_id, time_s);"
    "CREATE INDEX stream_pull_recording ON stream_pull(recording_id, from_s);"
    "CREATE TABLE found (id INTEGER PRIMARY KEY, belongs TEXT NOT NULL, owner_id INTEGER NOT NULL,"
    " at TEXT NOT NULL, who TEXT NOT NULL, text TEXT NOT NULL, withdrawn TEXT) STRICT;"
    "CREATE INDEX found_owner ON found(belongs, owner_id);",
    /* 8: a recording is known by its figures, however its file was saved. Those of before are read when a file
     * of their size is added. */
    "CREATE TABLE figures (recording_id INTEGER PRIMARY KEY REFERENCES recording(id),"
    " digest TEXT NOT NULL) STRICT;"
    "CREATE INDEX figures_digest ON figures(digest);",
    /* 9: each row that can leave the cell has a name that holds everywhere, says which cell and which copy of the book
     * wrote it, and on which day of the shop's own zone. Blocks are found by their place, no longer by arithmetic on
     * ids. What a recording did to the engine is kept once it was worked out (ledger.c). */
    /* clang-format off */
    "CREATE TABLE writer (uid TEXT PRIMARY KEY, cell TEXT NOT NULL, place TEXT NOT NULL,"
    " at TEXT NOT NULL) STRICT;"
    "INSERT INTO setting (key, value) VALUES ('zone', ew_zone()) ON CONFLICT(key) DO NOTHING;"
    "INSERT INTO setting (key, value) VALUES ('cell_uid', ew_uid(" KEY("identity") ", 'cell', 0,"
    " coalesce((SELECT min(at) FROM change_log), strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))))"
    " ON CONFLICT(key) DO NOTHING;"
    "INSERT INTO writer SELECT ew_uid(" KEY("identity") ", 'writer', 0, min(at)), " KEY("cell_uid") ","
    " '', min(at) FROM change_log HAVING count(*) > 0;"
    ORIGIN("engine", "added_at", "added_at")
    ORIGIN("recording", "added_at", "coalesce(measured_at, added_at)")
    NAMED("pull", "at") DATED("pull", "at")
    ORIGIN("verdict", "at", "at")
    ORIGIN("calibration", "at", "at")
    ORIGIN("build", "started_at", "started_at")
    ORIGIN("build_record", "at", "at")
    ORIGIN("attachment", "at", "coalesce(taken_at, at)")
    NAMED("note", "kept_at") DATED("note", "at")
    ORIGIN("mark", "at", "at")
    ORIGIN("alarm_trip", "at", "at")
    ORIGIN("found", "at", "at")
    ORIGIN("change_log", "at", "at")
    "ALTER TABLE stream_block ADD COLUMN sequence INTEGER NOT NULL DEFAULT 0;"
    "UPDATE stream_block SET sequence = id & 4294967295;"
    "CREATE UNIQUE INDEX stream_block_place ON stream_block(recording_id, sequence);"
    "CREATE TABLE life (recording_id INTEGER PRIMARY KEY REFERENCES recording(id),"
    " reduction INTEGER NOT NULL, json TEXT NOT NULL) STRICT;"
    "CREATE INDEX recording_began ON recording(engine_id, measured_at, added_at);",
    /* 10: what a pull was told has an origin each; a pull may be held until a question is answered; a corrected fact is a
     * new reading beside the former; recorders have profiles; an answer knows which readings it is of. */
    "ALTER TABLE pull ADD COLUMN told TEXT NOT NULL DEFAULT '[]';"
    "ALTER TABLE pull ADD COLUMN reading INTEGER NOT NULL DEFAULT 1;"
    "ALTER TABLE recording ADD COLUMN recorder TEXT;"
    "ALTER TABLE recording ADD COLUMN clock TEXT;"
    "ALTER TABLE curve ADD COLUMN calibration TEXT;"
    "ALTER TABLE verdict ADD COLUMN readings TEXT;"
    "CREATE TABLE hold (id INTEGER PRIMARY KEY, pull_id INTEGER NOT NULL REFERENCES pull(id),"
    " finding TEXT NOT NULL, at TEXT NOT NULL, answered_at TEXT, who TEXT, answer TEXT, reason TEXT,"
    " amendment_id INTEGER REFERENCES amendment(id), uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL,"
    " writer TEXT NOT NULL, day TEXT NOT NULL) STRICT;"
    "CREATE INDEX hold_pull ON hold(pull_id, answered_at);"
    "CREATE TABLE amendment (id INTEGER PRIMARY KEY, pull_id INTEGER NOT NULL REFERENCES pull(id),"
    " reading INTEGER NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, reason TEXT NOT NULL,"
    " changes TEXT NOT NULL, undoes INTEGER REFERENCES amendment(id), uid TEXT NOT NULL UNIQUE,"
    " cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL, UNIQUE (pull_id, reading)) STRICT;"
    "CREATE TABLE former (pull_id INTEGER NOT NULL REFERENCES pull(id), reading INTEGER NOT NULL,"
    " part INTEGER NOT NULL, kind TEXT NOT NULL, at TEXT NOT NULL, day TEXT NOT NULL,"
    " engine_id INTEGER REFERENCES engine(id), run INTEGER NOT NULL, mounting INTEGER NOT NULL,"
    " purpose TEXT NOT NULL, setup TEXT NOT NULL, changed TEXT, discarded TEXT, told TEXT NOT NULL,"
    " top_rpm REAL, band_mean_n_m REAL, channel_map TEXT, recorder TEXT, clock TEXT,"
    " measured_at TEXT, method TEXT NOT NULL, cell_record TEXT NOT NULL, engine TEXT NOT NULL,"
    " calibration TEXT, bytes BLOB NOT NULL, digest TEXT NOT NULL, program TEXT NOT NULL,"
    " PRIMARY KEY (pull_id, reading)) STRICT;"
    "CREATE TABLE recorder (id INTEGER PRIMARY KEY, name TEXT NOT NULL, version INTEGER NOT NULL,"
    " yaml TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, withdrawn TEXT,"
    " uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL, day TEXT NOT NULL,"
    " UNIQUE (name, version)) STRICT;"
    "CREATE TABLE recorder_mark (fingerprint TEXT PRIMARY KEY, name TEXT NOT NULL, at TEXT NOT NULL)"
    " STRICT;",
    /* 11: which reduction found a curve is a number of its own (0: of before they were counted), and pulls that an answer is
     * about are written in one way, so that looks can be counted where they lie. */
    "ALTER TABLE curve ADD COLUMN reduction INTEGER NOT NULL DEFAULT 0;"
    "ALTER TABLE former ADD COLUMN reduction INTEGER NOT NULL DEFAULT 0;"
    "UPDATE curve SET reduction = " REDUCTION_IN("program") ";"
    "UPDATE former SET reduction = " REDUCTION_IN("program") ";"
    "UPDATE verdict SET pulls = ew_asked(pulls);"
    "DROP INDEX verdict_pair;"
    "CREATE INDEX verdict_pair ON verdict(pair, pulls);",
    /* 12: the rows of a pull cut out of a live recording are stored once, there (cut.h). Those of before keep their bytes. */
    "ALTER TABLE stream_pull ADD COLUMN block INTEGER;"
    "ALTER TABLE stream_pull ADD COLUMN skip INTEGER;"
    "ALTER TABLE stream_pull ADD COLUMN rows INTEGER;"
    "ALTER TABLE stream_pull ADD COLUMN sensors TEXT;",
    /* 13: a book may belong to a shop: which rows were written, in their order, and from where on each writer wrote them. */
    "CREATE TABLE outbox (seq INTEGER PRIMARY KEY, mark INTEGER NOT NULL, what TEXT NOT NULL,"
    " number INTEGER, key TEXT) STRICT;"
    "CREATE TABLE shop (address TEXT PRIMARY KEY, role TEXT NOT NULL, joined_at TEXT NOT NULL,"
    " shipped INTEGER NOT NULL, shipped_at TEXT, clock_s REAL) STRICT;"
    "ALTER TABLE writer ADD COLUMN first_seq INTEGER;",
    /* 14: the customer's jobs, and the shop's price tables (records without a job). */
    "CREATE TABLE job (id INTEGER PRIMARY KEY, name TEXT NOT NULL, at TEXT NOT NULL,"
    " who TEXT NOT NULL, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL,"
    " day TEXT NOT NULL) STRICT;"
    "CREATE TABLE job_record (id INTEGER PRIMARY KEY, job_id INTEGER REFERENCES job(id),"
    " kind TEXT NOT NULL, at TEXT NOT NULL, who TEXT NOT NULL, yaml TEXT NOT NULL,"
    " lines TEXT, withdrawn TEXT, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL,"
    " writer TEXT NOT NULL, day TEXT NOT NULL) STRICT;"
    "CREATE INDEX job_record_job ON job_record(job_id, id);",
    /* 15: idle samples of a live recording may become runs at a lower rate (thinned.h). */
    "CREATE TABLE thinning (id INTEGER PRIMARY KEY,"
    " recording_id INTEGER NOT NULL REFERENCES stream(recording_id), at TEXT NOT NULL,"
    " who TEXT NOT NULL, whole_s REAL NOT NULL, period_s REAL NOT NULL, around_s REAL NOT NULL,"
    " life TEXT NOT NULL, uid TEXT NOT NULL UNIQUE, cell TEXT NOT NULL, writer TEXT NOT NULL,"
    " day TEXT NOT NULL) STRICT;"
    "CREATE INDEX thinning_recording ON thinning(recording_id, id);"
    "CREATE TABLE thinned (id INTEGER PRIMARY KEY,"
    " thinning_id INTEGER NOT NULL REFERENCES thinning(id),"
    " recording_id INTEGER NOT NULL REFERENCES stream(recording_id), first_block INTEGER NOT NULL,"
    " last_block INTEGER NOT NULL, source_rows INTEGER NOT NULL, source_bytes INTEGER NOT NULL,"
    " first_s REAL NOT NULL, last_s REAL NOT NULL, stored_from TEXT NOT NULL,"
    " stored_to TEXT NOT NULL, rows INTEGER NOT NULL, bytes BLOB NOT NULL,"
    " blocks_sha256 TEXT NOT NULL, sha256 TEXT NOT NULL) STRICT;"
    "CREATE UNIQUE INDEX thinned_place ON thinned(recording_id, first_block);",
    /* clang-format on */
};

int ew_schema_newest(void) {
  return (int)G_N_ELEMENTS(steps);
}

/* ---- functions of the steps ---- */

static const char *text_of(sqlite3_value *value) {
  const char *text = (const char *)sqlite3_value_text(value);
  return text ? text : "";
}

/* ew_uid(identity, table, id, made) */
static void sql_uid(sqlite3_context *context, int count, sqlite3_value **values) {
  char uid[EW_UUID_SIZE];
  g_autofree char *of = g_strdup_printf("%s %s %" G_GINT64_FORMAT, text_of(values[0]),
                                        text_of(values[1]), (gint64)sqlite3_value_int64(values[2]));
  (void)count;
  ew_uuid7_of(ew_instant(text_of(values[3])), of, uid);
  sqlite3_result_text(context, uid, -1, SQLITE_TRANSIENT);
}

/* ew_day(zone, instant); what is neither instant nor date keeps its first ten characters, as before. */
static void sql_day(sqlite3_context *context, int count, sqlite3_value **values) {
  char day[EW_DAY_SIZE];
  (void)count;
  g_autoptr(GTimeZone) zone = ew_zone_find(text_of(values[0]), NULL);
  if (!zone)
    sqlite3_result_error(context, "the zone of this book is not known to this machine", -1);
  else if (ew_zone_day(zone, text_of(values[1]), day))
    sqlite3_result_text(context, day, -1, SQLITE_TRANSIENT);
  else
    sqlite3_result_text(context, text_of(values[1]), (int)MIN(strlen(text_of(values[1])), 10u),
                        SQLITE_TRANSIENT);
}

static void sql_zone(sqlite3_context *context, int count, sqlite3_value **values) {
  (void)count, (void)values;
  sqlite3_result_text(context, ew_zone_of_machine(), -1, g_free);
}

/* ew_asked(pulls): "8,10:9", also of the words in which programs before step 11 kept it ("pulls 8, 10 against pull 9"). */
static void sql_asked(sqlite3_context *context, int count, sqlite3_value **values) {
  g_autoptr(GArray) a = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GArray) b = g_array_new(FALSE, FALSE, sizeof(gint64));
  const char *text = text_of(values[0]), *other = strstr(text, "against ");
  (void)count;
  if (other) {
    g_autofree char *first = g_strndup(text, (gsize)(other - text));
    ew_asked_read(first, a, a);
    ew_asked_read(other, b, b);
  } else
    ew_asked_read(text, a, b);
  sqlite3_result_text(context, ew_asked_write(a, b), -1, g_free);
}

/* Of these statements alone: no text in a file may call them. */
static gboolean lend_functions(sqlite3 *db) {
  const int how = SQLITE_UTF8 | SQLITE_DIRECTONLY;
  return sqlite3_create_function(db, "ew_uid", 4, how, NULL, sql_uid, NULL, NULL) == SQLITE_OK &&
         sqlite3_create_function(db, "ew_day", 2, how, NULL, sql_day, NULL, NULL) == SQLITE_OK &&
         sqlite3_create_function(db, "ew_asked", 1, how, NULL, sql_asked, NULL, NULL) ==
             SQLITE_OK &&
         sqlite3_create_function(db, "ew_zone", 0, how, NULL, sql_zone, NULL, NULL) == SQLITE_OK;
}

static gboolean apply(sqlite3 *db, int from, GError **error) {
  if (!lend_functions(db) || sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL) != SQLITE_OK)
    return ew_sqlite_error(db, error);
  int now = (int)ew_sqlite_number(db, "PRAGMA user_version");
  gboolean good = TRUE;
  for (int i = MAX(from, now); good && i < ew_schema_newest(); i++)
    good = sqlite3_exec(db, steps[i], NULL, NULL, NULL) == SQLITE_OK;
  if (good) {
    g_autofree char *mark = g_strdup_printf("PRAGMA user_version = %d; PRAGMA application_id = %d",
                                            ew_schema_newest(), EW_SCHEMA_APPLICATION_ID);
    good = sqlite3_exec(db, mark, NULL, NULL, NULL) == SQLITE_OK &&
           sqlite3_exec(db, "COMMIT", NULL, NULL, NULL) == SQLITE_OK;
  }
  if (!good) {
    if (sqlite3_errcode(db) == SQLITE_CONSTRAINT)
      ew_sql_damaged(error, "its rows contradict each other (%s)", sqlite3_errmsg(db));
    else
      ew_sqlite_error(db, error);
    sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
  }
  return good;
}

gboolean ew_schema_build(sqlite3 *db, int version) {
  gboolean good = lend_functions(db);
  for (int i = 0; good && i < version; i++)
    good = sqlite3_exec(db, steps[i], NULL, NULL, NULL) == SQLITE_OK;
  return good;
}

gboolean ew_schema_migrate(sqlite3 *db, GError **error) {
  int version = (int)ew_sqlite_number(db, "PRAGMA user_version");
  return version == ew_schema_newest() || apply(db, version, error);
}
