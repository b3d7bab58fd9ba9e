/* The list of what leaves the cell. tests/unit/book/test_outbox.c holds it against the tables of the schema. */
#include "book/sqlite/shipped.h"
#include <string.h>

#define TAKES_BLOCKS                                                                               \
  "DELETE FROM stream_block WHERE recording_id = (SELECT recording_id FROM thinned WHERE id = "    \
  "?1) "                                                                                           \
  "AND sequence BETWEEN (SELECT first_block FROM thinned WHERE id = ?1) AND (SELECT last_block "   \
  "FROM "                                                                                          \
  "thinned WHERE id = ?1)"

/* clang-format off */
const struct ew_shipped ew_shipped_tables[] = {
    {"setting", NULL, "key", FALSE, NULL, NULL, FALSE, NULL},
    {"writer", NULL, "uid", FALSE, NULL, NULL, FALSE, NULL},
    {"channel_map", NULL, "source", FALSE, NULL, NULL, FALSE, NULL},
    {"recorder", "id", NULL, TRUE, "uid", "name, version, yaml, at, who", FALSE, NULL},
    {"recorder_mark", NULL, "fingerprint", FALSE, NULL, NULL, FALSE, NULL},
    {"engine", "id", NULL, TRUE, NULL, NULL, FALSE, NULL},
    {"recording", "id", NULL, TRUE, "uid", "name, sha256, added_at, bytes", FALSE, NULL},
    {"stream", "recording_id", NULL, TRUE, NULL, NULL, FALSE, NULL},
    {"stream_block", "id", NULL, TRUE, "(SELECT r.uid FROM recording r WHERE r.id = recording_id) || '/' || sequence", "rows, sha256, bytes", TRUE, NULL},
    {"thinning", "id", NULL, TRUE, "uid", "recording_id, at, who, whole_s, period_s, around_s, life", FALSE, NULL},
    {"thinned", "id", NULL, TRUE, "(SELECT r.uid FROM recording r WHERE r.id = recording_id) || '/' || first_block || '-' || last_block", "source_rows, blocks_sha256, sha256, bytes", FALSE, TAKES_BLOCKS},
    {"stream_pull", "cut_id", NULL, FALSE, NULL, NULL, FALSE, NULL},
    {"pull", "id", NULL, TRUE, NULL, NULL, FALSE, NULL},
    {"curve", "pull_id", NULL, TRUE, NULL, NULL, FALSE, NULL},
    {"amendment", "id", NULL, TRUE, "uid", "pull_id, reading, at, who, reason, changes, undoes", FALSE, NULL},
    {"hold", "id", NULL, TRUE, NULL, NULL, FALSE, NULL},
    {"former", "pull_id", "reading", FALSE, NULL, NULL, FALSE, NULL},
    {"verdict", "id", NULL, TRUE, "uid", "at, question, pair, says, json", FALSE, NULL},
    {"calibration", "id", NULL, TRUE, "uid", "kind, at, valid_until, value, json, note", FALSE, NULL},
    {"build", "id", NULL, TRUE, NULL, NULL, FALSE, NULL},
    {"build_record", "id", NULL, TRUE, "uid", "build_id, kind, at, who, yaml", FALSE, NULL},
    {"job", "id", NULL, TRUE, "uid", "at, who, name", FALSE, NULL},
    {"job_record", "id", NULL, TRUE, "uid", "job_id, kind, at, who, yaml, lines", FALSE, NULL},
    {"attachment", "id", NULL, TRUE, "uid", "belongs, owner_id, name, sha256, bytes, at, who", FALSE, NULL},
    {"note", "id", NULL, TRUE, "uid", "at, who, text, kept_at", FALSE, NULL},
    {"mark", "id", NULL, TRUE, "uid", "recording_id, at, time_s, text", FALSE, NULL},
    {"alarm_trip", "id", NULL, TRUE, "uid", "recording_id, at, time_s, from_s, to_s, name, action, value, bound", FALSE, NULL},
    {"trip_time", "trip_id", "recording_id", FALSE, NULL, NULL, FALSE, NULL},
    {"found", "id", NULL, TRUE, "uid", "belongs, owner_id, at, who, text", FALSE, NULL},
    {"change_log", "id", NULL, TRUE, "uid", "at, who, what, detail", FALSE, NULL},
};
/* clang-format on */
const int ew_shipped_count = (int)G_N_ELEMENTS(ew_shipped_tables);

int ew_shipped_find(const char *table) {
  for (int i = 0; i < ew_shipped_count; i++)
    if (strcmp(ew_shipped_tables[i].name, table) == 0)
      return i;
  return -1;
}
