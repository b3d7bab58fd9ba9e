/* The whole book as open files in a folder: raw as it came (of a pull cut live the table that it was cut as), live recordings,
 * builds, attachments, and what was made of them as JSON. O(book); one recording at a time is in memory. */
#include "base/error.h"
#include "base/progress.h"
#include "book/job.h"
#include "book/attachment.h"
#include "book/build.h"
#include "book/stream.h"
#include "cli/attach.h"
#include "cli/backup.h"
#include "cli/command.h"
#include "cli/export_shop.h"
#include "cli/streams.h"
#include "desk/loaded.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/stat.h>

static const struct ew_option_spec export_options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    EW_OPTION_SHARED,
    {NULL, NULL, NULL, FALSE}};

static gboolean export_recording(struct ew_book *book, const char *folder, gint64 id,
                                 GError **error) {
  struct ew_recording_row row;
  if (!ew_recording_get(book, id, &row, error))
    return FALSE;
  gsize size;
  g_autoptr(GBytes) raw = ew_recording_file(&row, error);
  if (!raw) {
    ew_recording_row_clear(&row);
    return FALSE;
  }
  const char *bytes = g_bytes_get_data(raw, &size);
  g_autofree char *file = g_strdup_printf("recording-%05" G_GINT64_FORMAT ".raw", id);
  g_autofree char *path = g_build_filename(folder, file, NULL);
  g_autoptr(GError) problem = NULL;
  gboolean good = g_file_set_contents(path, bytes, (gssize)size, &problem) ||
                  ew_fail(error, "%s", problem->message);
  ew_recording_row_clear(&row);
  return good;
}

static gboolean export_pull(struct ew_desk *desk, const char *folder, gint64 id, GError **error) {
  struct ew_loaded *l = ew_desk_load_id(desk, id, error);
  if (!l)
    return FALSE;
  struct ew_json json = ew_answer_begin();
  ew_json_integer(&json, "id", id);
  ew_json_integer(&json, "recording_id", l->row.recording_id);
  ew_json_text(&json, "at", l->row.at);
  ew_json_text(&json, "purpose", l->row.purpose);
  ew_json_text(&json, "changed", l->row.changed);
  ew_json_text(&json, "discarded", l->row.discarded);
  ew_json_text(&json, "tripped", l->row.tripped);
  ew_json_open(&json, "setup");
  ew_fields_write_json(&ew_setup_fields, &l->setup, &json);
  ew_json_close(&json);
  ew_json_open(&json, "curve");
  ew_curve_write_json(l->curve, &json);
  ew_json_close(&json);
  ew_json_close(&json);
  ew_loaded_free(l);
  g_autofree char *file = g_strdup_printf("pull-%05" G_GINT64_FORMAT ".json", id);
  g_autofree char *path = g_build_filename(folder, file, NULL);
  g_autoptr(GError) problem = NULL;
  gboolean good = g_file_set_contents(path, json.text->str, (gssize)json.text->len, &problem) ||
                  ew_fail(error, "%s", problem->message);
  g_string_free(json.text, TRUE);
  return good;
}

static gboolean write_out(const char *folder, const char *file, const char *data, gsize size,
                          GError **error) {
  g_autofree char *path = g_build_filename(folder, file, NULL);
  g_autoptr(GError) problem = NULL;
  return g_file_set_contents(path, data, (gssize)size, &problem) ||
         ew_fail(error, "%s", problem->message);
}

/* Every active record, by kind. */
static gboolean export_build(struct ew_book *book, const char *folder,
                             const struct ew_build_row *row, GError **error) {
  g_autoptr(ew_build) build = ew_build_load(book, row->id, error);
  if (!build)
    return FALSE;
  struct ew_json json = ew_answer_begin();
  ew_json_integer(&json, "id", row->id);
  ew_json_text(&json, "engine", row->engine);
  ew_json_text(&json, "build", row->name);
  for (int k = 0; k < EW_BUILD_KINDS_COUNT; k++) {
    ew_json_open_array(&json, ew_build_kind_key(k));
    for (guint i = 0; i < build->records[k]->len; i++) {
      ew_json_open(&json, NULL);
      ew_build_record_json(k, build->records[k]->pdata[i], &json);
      ew_json_close(&json);
    }
    ew_json_close_array(&json);
  }
  ew_json_close(&json);
  g_autofree char *file = g_strdup_printf("build-%05" G_GINT64_FORMAT ".json", row->id);
  gboolean good = write_out(folder, file, json.text->str, json.text->len, error);
  g_string_free(json.text, TRUE);
  return good;
}

static void write_records(const struct ew_job *job, struct ew_json *json) {
  for (int k = 0; k < EW_JOB_KINDS_COUNT; k++) {
    ew_json_open_array(json, ew_job_kind_key((enum ew_job_kind)k));
    for (guint i = 0; i < job->records[k]->len; i++) {
      ew_json_open(json, NULL);
      ew_job_record_json((enum ew_job_kind)k, job->records[k]->pdata[i], json);
      ew_json_close(json);
    }
    ew_json_close_array(json);
  }
}

/* jobs.json: every job with its active records, and the price table. */
static gboolean export_jobs(struct ew_book *book, const char *folder, GError **error) {
  g_autoptr(GArray) rows = ew_job_list(book, error);
  g_autoptr(ew_job) shop = rows ? ew_job_load(book, 0, error) : NULL;
  gboolean good = shop != NULL;
  struct ew_json json = ew_answer_begin();
  ew_json_open_array(&json, "jobs");
  for (guint i = 0; good && i < rows->len; i++) {
    g_autoptr(ew_job) job = ew_job_load(book, g_array_index(rows, struct ew_job_row, i).id, error);
    good = job != NULL;
    ew_json_open(&json, NULL);
    ew_json_integer(&json, "id", job ? job->id : 0);
    ew_json_text(&json, "job", job ? job->name : NULL);
    if (job)
      write_records(job, &json);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  ew_json_open(&json, "shop");
  if (shop)
    write_records(shop, &json);
  ew_json_close(&json);
  ew_json_close(&json);
  good = good && write_out(folder, "jobs.json", json.text->str, json.text->len, error);
  g_string_free(json.text, TRUE);
  return good;
}

static gboolean run_export(const struct ew_call *call, GError **error) {
  const char *folder = ew_call_argument(call, 0);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_desk desk = {0};
  if (!book || !ew_desk_open(&desk, book, error))
    return FALSE;
  mode_t before = umask(0);
  umask(ew_call_has(call, "shared") ? before : 0077); /* until the command ends */
  if (g_mkdir_with_parents(folder, 0777) != 0) {
    ew_desk_clear(&desk);
    return ew_refuse(error, "%s: the folder cannot be created: %s", folder, g_strerror(errno));
  }
  g_autoptr(GArray) rows = ew_pull_list(book, 0, error);
  gboolean good = rows != NULL;
  g_autoptr(GArray) recordings = ew_recording_ids(book, error);
  g_autoptr(GArray) builds = ew_build_list(book, 0, NULL);
  g_autoptr(GArray) attached = ew_attachment_list(book, NULL, TRUE, NULL);
  g_autoptr(GArray) live = ew_stream_list(book, NULL);
  struct ew_steps steps = {
      ew_call_progress(), NULL, 0,
      good ? recordings->len + rows->len + builds->len + attached->len + live->len : 0};
  for (guint i = 0; good && i < recordings->len; i++) {
    gint64 id = g_array_index(recordings, gint64, i);
    gboolean is_live;
    good = ew_stream_is(book, id, &is_live, error) &&
           (is_live || export_recording(book, folder, id, error));
    ew_step(&steps);
  }
  for (guint i = 0; good && i < rows->len; i++) {
    good = export_pull(&desk, folder, g_array_index(rows, struct ew_pull_row, i).id, error);
    ew_step(&steps);
  }
  good = good && ew_export_engines(book, folder, error) && ew_export_shop(book, folder, error);
  guint streams = 0;
  good = good && ew_export_streams(book, folder, &streams, &steps, error);
  for (guint i = 0; good && i < builds->len; i++) {
    good = export_build(book, folder, &g_array_index(builds, struct ew_build_row, i), error);
    ew_step(&steps);
  }
  guint attachments = 0;
  good = good && export_jobs(book, folder, error) &&
         ew_export_attachments(book, folder, &attachments, &steps, error) &&
         ew_export_notes(book, folder, error);
  if (good && call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "folder", folder);
    ew_json_integer(&json, "pulls", rows->len);
    ew_json_integer(&json, "streams", streams);
    ew_json_integer(&json, "builds", builds->len);
    ew_json_integer(&json, "attachments", attachments);
    ew_answer_end(&json);
  } else if (good)
    ew_say("pulls: %u, live recordings: %u, attachments: %u, written to %s: raw recordings as they "
           "came, live ones as tables, engines as typed; curves, set-ups, notes, answers, "
           "calibrations and the log in JSON",
           rows->len, streams, attachments, folder);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_book_export = {
    .name = "book export",
    .summary = EW_TEXT("Everything in open formats: raw and live data as it came, engines, curves, "
                       "set-ups, answers, log"),
    .takes = EW_TEXT("FOLDER"),
    .least = 1,
    .most = 1,
    .options = export_options,
    .run = run_export,
    .examples = "book export /tmp/shop"};
