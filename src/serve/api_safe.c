/* The book in safe keeping: copies beside it, and whether it is whole. */
#include "base/error.h"
#include "book/keep.h"
#include "book/backup.h"
#include "book/verify.h"
#include "serve/predictor.h"
#include "serve/service.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>

#define SAME_SECOND_MOST 100

static char *backup_folder(struct ew_service *s) {
  return g_strconcat(ew_book_path(s->book), ".backups", NULL);
}

/* By the second; a second one within it, or after the clock was put back, gets a number. */
static char *free_name(struct ew_service *s, const char *folder, char **path) {
  g_autofree char *now = ew_time_now();
  g_autofree char *book = g_path_get_basename(ew_book_path(s->book));
  char *name = NULL;
  for (int n = 1; n <= SAME_SECOND_MOST; n++) {
    g_free(name);
    name = n == 1 ? g_strdup_printf("%.19s-%s", now, book)
                  : g_strdup_printf("%.19s-%d-%s", now, n, book);
    g_strdelimit(name, ":", '.');
    g_free(*path);
    *path = g_build_filename(folder, name, NULL);
    if (!g_file_test(*path, G_FILE_TEST_EXISTS))
      break;
  }
  return name;
}

/* A copy into a folder of our own beside the book: a page may not name a place on this machine. */
gboolean ew_api_backup(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  (void)r;
  g_autofree char *folder = backup_folder(s), *path = NULL;
  if (g_mkdir_with_parents(folder, 0700) != 0)
    return ew_fail(error, "%s cannot be made: %s", folder, g_strerror(errno));
  g_autofree char *name = free_name(s, folder, &path);
  if (!ew_book_backup(s->book, path, NULL, error) || !ew_keep_log(s->book, "backup", name, error))
    return FALSE;
  ew_json_text(&reply->json, "backup", name);
  reply->changed = TRUE;
  return TRUE;
}

static int by_name_down(gconstpointer a, gconstpointer b) {
  return strcmp(*(char *const *)b, *(char *const *)a);
}

/* When it was last written; `-1`: not known. */
static void write_time(gint64 unix_s, struct ew_json *json) {
  g_autoptr(GDateTime) at = unix_s < 0 ? NULL : g_date_time_new_from_unix_utc(unix_s);
  g_autofree char *text = at ? g_date_time_format(at, "%Y-%m-%dT%H:%M:%SZ") : NULL;
  ew_json_text(json, "at", text);
}

gboolean ew_api_backups(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                        GError **error) {
  (void)r;
  (void)error;
  g_autofree char *folder = backup_folder(s), *shown = g_path_get_basename(folder);
  g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);
  g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
  for (const char *name; dir && (name = g_dir_read_name(dir));)
    if (g_str_has_suffix(name, ".book"))
      g_ptr_array_add(names, g_strdup(name));
  g_ptr_array_sort(names, by_name_down);
  ew_json_text(&reply->json, "folder", shown);
  ew_json_open_array(&reply->json, "backups");
  for (guint i = 0; i < names->len; i++) {
    g_autofree char *path = g_build_filename(folder, names->pdata[i], NULL);
    GStatBuf about;
    gboolean there = g_stat(path, &about) == 0;
    ew_json_open(&reply->json, NULL);
    ew_json_text(&reply->json, "name", names->pdata[i]);
    ew_json_integer(&reply->json, "bytes", there ? about.st_size : 0);
    write_time(there ? about.st_mtime : -1, &reply->json);
    ew_json_close(&reply->json);
  }
  ew_json_close_array(&reply->json);
  return TRUE;
}

/* The name as it stands in the list, and nothing else: no way out of the folder. Mapped, not read: a book may be large. */
gboolean ew_api_backup_file(struct ew_service *s, const struct ew_request *r,
                            struct ew_reply *reply, GError **error) {
  const char *name = ew_request_query(r, "name");
  g_autofree char *folder = backup_folder(s);
  g_autoptr(GError) problem = NULL;
  if (!name || strchr(name, '/') || name[0] == '.' || !g_str_has_suffix(name, ".book"))
    return ew_refuse(error, "name: give one from the list of backups");
  g_autofree char *path = g_build_filename(folder, name, NULL);
  if (!g_file_test(path, G_FILE_TEST_IS_REGULAR) || g_file_test(path, G_FILE_TEST_IS_SYMLINK))
    return ew_refuse(error, "name: there is no backup '%.80s'", name);
  g_autoptr(GMappedFile) file = g_mapped_file_new(path, FALSE, &problem);
  if (!file)
    return ew_fail(error, "%.80s cannot be read: %s", name, problem->message);
  reply->bytes = g_mapped_file_get_bytes(file);
  reply->type = "application/octet-stream";
  reply->inert = TRUE;
  reply->download = ew_service_header_name(name);
  return TRUE;
}

/* In the lane's thread, with a connection of its own: the page and a recorder go on meanwhile. */
static gboolean run_verify(gpointer data, const struct ew_job_run *run, struct ew_json *json,
                           GError **error) {
  struct ew_verify_watch watch = {run->cancel, run->progress, run->progress_data};
  struct ew_verification v;
  g_autoptr(ew_book) book = ew_book_open(data, FALSE, error);
  if (!book)
    return FALSE;
  gboolean done = ew_book_verify(book, &watch, &v, error);
  if (done) {
    ew_json_boolean(json, "whole", v.whole);
    ew_json_integer(json, "recordings", v.recordings);
    ew_json_integer(json, "curves", v.curves);
    ew_json_texts(json, "problems", v.problems);
  }
  ew_verification_clear(&v);
  return done;
}

/* Reads the whole book, so it is a job, and for devices that may write only. One at a time: asked again, by
 * whomever, the one under way gives way. */
gboolean ew_api_verify(struct ew_service *s, const struct ew_request *r, struct ew_reply *reply,
                       GError **error) {
  (void)r;
  struct ew_job_work work = {.kind = "verify",
                             .lane = EW_LANE_LONG,
                             .run = run_verify,
                             .data = g_strdup(ew_book_path(s->book)),
                             .free = g_free,
                             .instead =
                                 EW_TEXT("not done within 10 minutes: stop the server and use "
                                         "'enginewright book verify', which has no limit")};
  gint64 id = ew_predictor_start(s->predictor, "verify", "verify", &work, error);
  ew_json_integer(&reply->json, "job", id);
  return id != 0;
}
