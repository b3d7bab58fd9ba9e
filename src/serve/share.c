/* One listener, two queues: what takes time to make (sheets, figures) is not in the way of the rest. Each queue has a connection to the
 * book, a list of links and kept answers of its own. Costs: a sheet is made once for each change of the book, however many look. */
#include "serve/share.h"
#include "base/error.h"
#include "book/book.h"
#include "book/store.h"
#include "serve/http.h"
#include "serve/share_pages.h"
#include <glib-unix.h>
#include <signal.h>
#include <stdlib.h>

enum queue { QUEUE_MAIN, QUEUE_QUICK, QUEUE_SLOW, QUEUES };

struct part {
  struct ew_book *book;
  struct ew_shares *shares;
  struct ew_share_kept *kept;
};

static double now_s(void) {
  return (double)g_get_real_time() / 1e6;
}

static void refuse(struct ew_reply *reply, guint status, const char *why) {
  ew_reply_clear(reply);
  *reply = (struct ew_reply){.status = status, .json = {.text = g_string_new(NULL)}};
  ew_json_open(&reply->json, NULL);
  ew_json_text(&reply->json, "error", why);
  ew_json_text(&reply->json, "remedy", NULL); /* as http_reply.c has it */
  ew_json_text(&reply->json, "field", NULL);
  ew_json_close(&reply->json);
}

/* Before anything is read: the same answer whatever is wrong, so that nothing can be learnt from it. */
static guint admits(struct ew_request *request, const char **why, gpointer user) {
  struct part *parts = user;
  char token[65];
  enum ew_share_page page;
  gint64 photo;
  *why = EW_TEXT("there is nothing at this address, or the link no longer works");
  request->holder = request->address;
  return ew_share_split(request->path, token, &page, &photo) &&
                 ew_shares_find(parts[QUEUE_MAIN].shares, token, now_s())
             ? 0
             : 404;
}

static guint queue_of(const struct ew_request *request, gpointer user) {
  char token[65];
  enum ew_share_page page = EW_SHARE_INDEX;
  gint64 photo;
  (void)user;
  ew_share_split(request->path, token, &page, &photo);
  return ew_share_is_slow(page) ? QUEUE_SLOW : QUEUE_QUICK;
}

static void answer(struct part *part, const struct ew_request *request, struct ew_reply *reply) {
  char token[65];
  enum ew_share_page page;
  gint64 photo;
  g_autoptr(GError) error = NULL;
  const struct ew_share *share = ew_share_split(request->path, token, &page, &photo)
                                     ? ew_shares_find(part->shares, token, now_s())
                                     : NULL;
  ew_book_forget_trouble();
  gboolean good =
      share && ew_share_answer(part->book, share, page, photo, part->kept, reply, &error);
  g_autoptr(GError) trouble = ew_book_take_trouble();
  if (good && !trouble)
    return;
  if (error || trouble) /* what is wrong in the shop is not the customer's to read */
    refuse(reply, 503, ew_tr(EW_TEXT("the shop has not got this ready yet: ask the shop")));
  else
    refuse(reply, 404,
           ew_tr(EW_TEXT("there is nothing at this address, or the link no longer "
                         "works")));
}

static void answers(struct ew_request *request, struct ew_reply *reply, guint queue,
                    gpointer user) {
  struct part *parts = user;
  g_assert(queue == QUEUE_QUICK || queue == QUEUE_SLOW);
  const ew_language *former = ew_language_of_thread(request->language);
  answer(&parts[queue], request, reply);
  ew_language_of_thread(former);
}

static gboolean open_parts(struct part *parts, const char *path, GError **error) {
  for (int i = 0; i < QUEUES; i++) {
    struct part *part = &parts[i];
    if (!(part->book = ew_book_open(path, FALSE, error)))
      return FALSE;
    g_autofree char *identity = ew_book_identity(part->book, error);
    if (!identity)
      return FALSE;
    part->shares = ew_shares_new(identity);
    part->kept = ew_share_kept_new();
    if (i == QUEUE_MAIN && !ew_shares_list(part->shares, error))
      return FALSE;
  }
  return TRUE;
}

static void close_parts(struct part *parts) {
  for (int i = 0; i < QUEUES; i++) {
    if (parts[i].shares) {
      ew_shares_free(parts[i].shares);
      ew_share_kept_free(parts[i].kept);
    }
    ew_book_close(parts[i].book);
  }
}

static gboolean on_signal(gpointer user) {
  g_main_loop_quit(user);
  return G_SOURCE_CONTINUE;
}

static gboolean read_pem(const char *option, const char *path, char **text, GError **error) {
  g_autoptr(GError) problem = NULL;
  return !path || g_file_get_contents(path, text, NULL, &problem) ||
         ew_refuse(error, "%s: %s", option, problem->message);
}

static gboolean listen_and_run(const struct ew_share_options *o, struct part *parts,
                               GError **error) {
  g_autofree char *certificate = NULL, *key = NULL;
  if (!o->certificate != !o->key)
    return ew_refuse(error, "--certificate and --key go together");
  if (!read_pem("--certificate", o->certificate, &certificate, error) ||
      !read_pem("--key", o->key, &key, error))
    return FALSE;
  struct ew_http_options options = {.port = o->port,
                                    .lan = o->lan,
                                    .certificate = certificate,
                                    .key = key,
                                    .spool_folder = g_get_tmp_dir(),
                                    .admits = admits,
                                    .answers = answers,
                                    .queue_of = queue_of,
                                    .queues = QUEUES - 1,
                                    .user = parts,
                                    .reads_only = TRUE,
                                    .public_name = o->public_name};
  struct ew_http *http = ew_http_start(&options, error);
  if (!http)
    return FALSE;
  GMainLoop *loop = g_main_loop_new(NULL, FALSE);
  g_unix_signal_add(SIGTERM, on_signal, loop);
  g_unix_signal_add(SIGINT, on_signal, loop);
  g_autofree char *address =
      g_strdup_printf("%s://127.0.0.1:%u/", certificate ? "https" : "http", ew_http_port(http));
  struct ew_share_ready ready = {address, ew_http_port(http), o->lan && !certificate};
  o->ready(&ready, o->user);
  g_main_loop_run(
      loop); /* the loop and its sources stay: a second signal must not kill what ends */
  ew_http_stop(http);
  return TRUE;
}

gboolean ew_share_serve(const struct ew_share_options *options, GError **error) {
  struct part parts[QUEUES] = {{0}};
  signal(SIGPIPE, SIG_IGN);
  gboolean good = open_parts(parts, options->book, error) && listen_and_run(options, parts, error);
  close_parts(parts);
  return good;
}
