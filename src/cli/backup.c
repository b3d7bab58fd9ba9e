/* "book backup", and who may read a file written from a book. A signal stops the copy and leaves nothing behind. */
#include "cli/backup.h"
#include "base/error.h"
#include "book/backup.h"
#include "cli/command.h"
#include <errno.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <sys/stat.h>

gboolean ew_share_file(const char *path, GError **error) {
  mode_t mask = umask(0);
  umask(mask);
  return g_chmod(path, (int)(0666 & ~mask)) == 0 ||
         ew_fail(error, "%s: %s", path, g_strerror(errno));
}

static gint stopped; /* atomic: a signal came */

static void on_signal(int number) {
  (void)number;
  g_atomic_int_set(&stopped, 1);
}

/* Told to end, it leaves nothing behind; killed outright, the next backup into that folder removes what is left. */
static gboolean run_backup(const struct ew_call *call, GError **error) {
  static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
  const char *path = ew_call_argument(call, 0);
  if (!ew_call_place(path, error))
    return FALSE;
  for (gsize i = 0; i < G_N_ELEMENTS(signals); i++)
    signal(signals[i], on_signal);
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, TRUE, error);
  struct ew_backup_options options = {ew_call_has(call, "shared"), &stopped, ew_call_progress(),
                                      NULL};
  if (!book || !ew_book_backup(book, path, &options, error))
    return FALSE;
  if (call->json) {
    struct ew_json json = ew_answer_begin();
    ew_json_text(&json, "backup", path);
    ew_answer_end(&json);
  } else
    ew_say("copied to %s", path);
  return TRUE;
}
static const struct ew_option_spec options[] = {
    {"book", EW_TEXT("FILE"), EW_TEXT("the shop's book"), FALSE},
    EW_OPTION_SHARED,
    {NULL, NULL, NULL, FALSE}};
const struct ew_command ew_command_book_backup = {
    .name = "book backup",
    .summary = EW_TEXT("Copy the whole book, even while it is in use"),
    .takes = EW_TEXT("FILE"),
    .least = 1,
    .most = 1,
    .options = options,
    .run = run_backup,
    .examples = "book backup /media/stick/shop-friday.book"};
