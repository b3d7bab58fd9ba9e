/* A whole invented test day, through the same code that real files use. */
#include "cli/command.h"
#include "desk/day.h"
#include <errno.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <string.h>

static const struct ew_option_spec options[] = {
    {"folder", EW_TEXT("FOLDER"),
     EW_TEXT("where book, recordings and report go (default: a new folder here)"), FALSE},
    {NULL, NULL, NULL, FALSE}};

static void say_line(const char *line, gpointer user) {
  (void)user;
  ew_say("%s", line);
}

static char *new_folder(const struct ew_call *call, GError **error) {
  const char *given = ew_call_option(call, "folder");
  char *folder = given ? g_strdup(given) : g_strdup("enginewright-demo");
  for (int i = 2; !given && g_file_test(folder, G_FILE_TEST_EXISTS); i++) {
    g_free(folder);
    folder = g_strdup_printf("enginewright-demo-%d", i);
  }
  g_autofree char *recordings = g_build_filename(folder, "recordings", NULL);
  if (g_mkdir_with_parents(recordings, 0777) == 0)
    return folder;
  ew_refuse(error, "%s: the folder cannot be created: %s", recordings, g_strerror(errno));
  g_free(folder);
  return NULL;
}

static gboolean run(const struct ew_call *call, GError **error) {
  g_autofree char *folder = new_folder(call, error);
  if (!folder)
    return FALSE;
  g_autofree char *book_path = g_build_filename(folder, "demo.book", NULL);
  g_autofree char *recordings = g_build_filename(folder, "recordings", NULL);
  g_autofree char *report = g_build_filename(folder, "report.pdf", NULL);
  if (g_file_test(book_path, G_FILE_TEST_EXISTS))
    return ew_refuse(error, "%s: a demo already ran here; choose another --folder", book_path);
  g_autoptr(GBytes) script =
      g_resources_lookup_data("/days/hill-climb-six.yaml", G_RESOURCE_LOOKUP_FLAGS_NONE, NULL);
  gsize size;
  const char *text = g_bytes_get_data(script, &size);
  g_autoptr(ew_node) root = ew_node_parse("hill-climb-six.yaml", text, size, error);
  g_autoptr(ew_book) book = root ? ew_book_open(book_path, TRUE, error) : NULL;
  if (!book)
    return FALSE;
  if (!call->json)
    ew_say("A test day of an invented engine in a simulated cell. Each recording is handled like a "
           "real file.\n");
  const struct ew_day_watch watch = {call->json ? NULL : say_line, ew_call_progress(), NULL};
  if (!ew_run_demo(book, root, "hill-climb-six.yaml", recordings, report, &watch, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "book", book_path);
    ew_json_text(&json, "recordings", recordings);
    ew_json_text(&json, "report", report);
    ew_answer_end(&json);
  } else
    ew_say("\nbook        %s\nrecordings  %s\nreport      %s\n\nNext: %s pull list --book %s\n"
           "      %s pull explain 30 --speed \"6000 rpm\" --book %s\n"
           "      %s look %s/run-12.csv",
           book_path, recordings, report, ew_called_as(), book_path, ew_called_as(), book_path,
           ew_called_as(), recordings);
  return TRUE;
}
const struct ew_command ew_command_demo = {
    .name = "demo",
    .summary = EW_TEXT("A whole invented test day in a new book, ending with the report"),
    .takes = "",
    .options = options,
    .run = run,
    .examples = "demo\ndemo --folder /tmp/demo"};
