/* The list of what leaves the cell. tests/unit/book/test_outbox.c holds it against the tables of the schema. */
#include "book/sqlite/shipped.h"
#include <string.h>

/* clang-format off */
const struct ew_shipped ew_shipped_tables[] = {
    {"setting", NULL, "key", FALSE, NULL, NULL},
    {"writer", NULL, "uid", FALSE, NULL, NULL},
    {"channel_map", NULL, "source", FALSE, NULL, NULL},
    {"recorder", "id", NULL, TRUE, "uid", "name, version, yaml, at, who"},
    {"recorder_mark", NULL, "fingerprint", FALSE, NULL, NULL},
    {"engine", "id", NULL, TRUE, NULL, NULL},
    {"recording", "id", NULL, TRUE, "uid", "name, sha256, added_at, bytes"},
    {"stream", "recording_id", NULL, TRUE, NULL, NULL},
    {"stream_block", "id", NULL, TRUE, "(SELECT r.uid FROM recording r WHERE r.id = recording_id) || '/' || sequence", "rows, sha256, bytes"},
    {"stream_pull", "cut_id", NULL, FALSE, NULL, NULL},
    {"pull", "id", NULL, TRUE, NULL, NULL},
    {"curve", "pull_id", NULL, TRUE, NULL, NULL},
    {"amendment", "id", NULL, TRUE, "uid", "pull_id, reading, at, who, reason, changes, undoes"},
    {"hold", "id", NULL, TRUE, NULL, NULL},
    {"former", "pull_id", "reading", FALSE, NULL, NULL},
    {"verdict", "id", NULL, TRUE, "uid", "at, question, pair, says, json"},
    {"calibration", "id", NULL, TRUE, "uid", "kind, at, valid_until, value, json, note"},
    {"build", "id", NULL, TRUE, NULL, NULL},
    {"build_record", "id", NULL, TRUE, "uid", "build_id, kind, at, who, yaml"},
    {"job", "id", NULL, TRUE, "uid", "at, who, name"},
    {"job_record", "id", NULL, TRUE, "uid", "job_id, kind, at, who, yaml, lines"},
    {"attachment", "id", NULL, TRUE, "uid", "belongs, owner_id, name, sha256, bytes, at, who"},
    {"note", "id", NULL, TRUE, "uid", "at, who, text, kept_at"},
    {"mark", "id", NULL, TRUE, "uid", "recording_id, at, time_s, text"},
    {"alarm_trip", "id", NULL, TRUE, "uid", "recording_id, at, time_s, from_s, to_s, name, action, value, bound"},
    {"trip_time", "trip_id", "recording_id", FALSE, NULL, NULL},
    {"found", "id", NULL, TRUE, "uid", "belongs, owner_id, at, who, text"},
    {"change_log", "id", NULL, TRUE, "uid", "at, who, what, detail"},
};
/* clang-format on */
const int ew_shipped_count = (int)G_N_ELEMENTS(ew_shipped_tables);

int ew_shipped_find(const char *table) {
  for (int i = 0; i < ew_shipped_count; i++)
    if (strcmp(ew_shipped_tables[i].name, table) == 0)
      return i;
  return -1;
}
