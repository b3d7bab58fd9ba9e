/* A live session from its opening to its end: the lock and the loop of the live thread. */
#include "desk/record.h"
#include "base/error.h"
#include "book/keep.h"
#include "book/book_file.h"
#include "book/room.h"
#include "desk/record_recover.h"
#include "desk/record_session.h"
#include "desk/recorder.h"
#include <errno.h>
#include <gio/gio.h>
#include <math.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#define LOOK_S 0.05 /* the longest sleep of the live thread */

static struct ew_source *open_replay(const char *url, GError **error) {
  const char *rest = url + strlen("replay:"), *hash = strrchr(rest, '#');
  double speed;
  if (!hash || !ew_url_number(hash, "speed", 1, 1, 100, &speed, error)) {
    if (!hash)
      ew_refuse(error, "source '%s': write replay:BOOK#RECORDING?speed=1", url);
    return NULL;
  }
  g_autofree char *path = g_strndup(rest, (gsize)(hash - rest));
  g_autoptr(ew_book) book = ew_book_open(path, FALSE, error);
  struct ew_recording_row row = {0};
  if (!book || !ew_recording_get(book, g_ascii_strtoll(hash + 1, NULL, 10), &row, error))
    return NULL;
  g_autoptr(GBytes) file = ew_recording_file(&row, error);
  struct ew_source *source = file ? ew_source_replay(url, file, speed, error) : NULL;
  ew_recording_row_clear(&row);
  return source;
}

static gboolean open_feeds(struct ew_session *live, GError **error) {
  for (int i = 0; live->options->sources[i]; i++) {
    const char *url = live->options->sources[i];
    struct ew_source *source =
        g_str_has_prefix(url, "replay:") ? open_replay(url, error) : ew_source_open(url, error);
    if (!source)
      return FALSE;
    struct ew_feed *f = g_new0(struct ew_feed, 1);
    f->live = live;
    f->source = source;
    f->ring = g_array_new(FALSE, FALSE, sizeof(double));
    f->last_s = f->arrival_s = f->period_s = NAN;
    ew_pull_watch_reset(&f->watch);
    ew_freshness_begin(&f->fresh, NAN);
    g_ptr_array_add(live->feeds, f);
  }
  return live->feeds->len > 0 ||
         ew_refuse(error, "source: not given; name where the samples come from");
}

/* What a recorder that crashed left open: closed, and reported with the gap and with the pull that was not stored yet. */
EW_MESSAGE_MANY(recovered, "desk.recovered", EW_CAUTION,
                "recording {recording} was cut short: its {rows} stored row is kept; nothing was "
                "recorded from {from} to {to}",
                "recording {recording} was cut short: its {rows} stored rows are kept; nothing was "
                "recorded from {from} to {to}");
EW_MESSAGE(recovered_with, "desk.recovered-with", EW_CAUTION,
           "{what}; a pull in it that was not stored yet is pull {pulls} now, and held");
EW_MESSAGE(recovered_less, "desk.recovered-less", EW_DANGER,
           "{what}; what was measured behind its last stored pull could not be looked at: {why}");

/* Takes `what`. */
static ew_message *with_pulls(ew_message *what, const GArray *pulls, const GError *problem) {
  g_autoptr(ew_message) gap = what;
  if (problem)
    return ew_message(&recovered_less, ew_say_message("what", gap),
                      ew_say_text("why", problem->message));
  if (!pulls || pulls->len == 0)
    return g_steal_pointer(&gap);
  g_autoptr(GString) ids = g_string_new(NULL);
  for (guint i = 0; i < pulls->len; i++)
    g_string_append_printf(ids, "%s%" G_GINT64_FORMAT, i ? ", " : "",
                           g_array_index(pulls, gint64, i));
  return ew_message(&recovered_with, ew_say_message("what", gap), ew_say_text("pulls", ids->str));
}

/* Its pull first: a recorder that is killed in between finds the recording open again, and nothing behind that pull. A pull that cannot be
 * kept does not hinder the session that begins; its rows stay. */
static gboolean recover_one(struct ew_session *live, struct ew_book *book,
                            const struct ew_stream_row *row, GError **error) {
  g_autoptr(GError) problem = NULL;
  g_autoptr(GArray) pulls = ew_recover_pulls(book, row, &problem);
  g_assert((pulls == NULL) == (problem != NULL));
  if (!ew_keep_live_end(book, row->id, "crashed", error))
    return FALSE;
  const char *last = row->last_stored_at ? row->last_stored_at : row->began_at;
  g_autofree char *now = ew_time_now();
  struct ew_json json = ew_session_news(EW_RECORD_RECOVERED);
  ew_json_integer(&json, "recording", row->id);
  ew_json_text(&json, "source", row->source);
  ew_json_integer(&json, "stored_rows", row->rows);
  ew_json_number(&json, "last_s", row->last_s);
  ew_json_text(&json, "gap_from", last);
  ew_json_text(&json, "gap_to", now);
  ew_json_open_array(&json, "pulls");
  for (guint i = 0; pulls && i < pulls->len; i++)
    ew_json_integer(&json, NULL, g_array_index(pulls, gint64, i));
  ew_json_close_array(&json);
  g_autofree char *from = g_strndup(last, 19), *to = g_strndup(now, 19),
                  *number = g_strdup_printf("%" G_GINT64_FORMAT, row->id);
  ew_message *gap =
      ew_message(&recovered, ew_say_count("rows", row->rows), ew_say_text("recording", number),
                 ew_say_text("from", from), ew_say_text("to", to));
  ew_session_post(live, EW_RECORD_RECOVERED, &json, with_pulls(gap, pulls, problem));
  return TRUE;
}

static gboolean recover(struct ew_session *live, struct ew_book *book, GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_stream_unfinished(book, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  live->crashed = rows && rows->len > 0;
  for (guint i = 0; i < rows->len; i++)
    if (!recover_one(live, book, &g_array_index(rows, struct ew_stream_row, i), error))
      return FALSE;
  return TRUE;
}

gboolean ew_record_is_under_way(const char *book_path) {
  return ew_book_lock_is_held(book_path);
}

static gboolean all_ended(const struct ew_session *live) {
  for (guint i = 0; i < live->feeds->len; i++)
    if (!((struct ew_feed *)g_ptr_array_index(live->feeds, i))->source->ended)
      return FALSE;
  return TRUE;
}

static void wait_for_news(struct ew_session *live) {
  g_autofree struct pollfd *polls = g_new0(struct pollfd, live->feeds->len + 1);
  double now = ew_monotonic_s(), wake = now + LOOK_S;
  for (guint i = 0; i < live->feeds->len; i++) {
    const struct ew_source *source = ((struct ew_feed *)g_ptr_array_index(live->feeds, i))->source;
    polls[i] = (struct pollfd){source->ended ? -1 : source->fd, POLLIN, 0};
    if (!source->ended)
      wake = MIN(wake, source->wake_s);
  }
  polls[live->feeds->len] =
      (struct pollfd){live->control_ended ? -1 : live->options->control_fd, POLLIN, 0};
  double left = MAX(wake - now, 0);
  struct timespec wait = {(time_t)left, (long)((left - floor(left)) * 1e9)};
  ppoll(polls, live->feeds->len + 1, &wait, NULL);
  if (polls[live->feeds->len].revents & (POLLIN | POLLHUP))
    ew_session_read_control(live);
}

/* Where the system allows it the live thread goes before all others: alarm first. */
static void go_at(int nice) {
  if (setpriority(PRIO_PROCESS, (id_t)gettid(), nice) != 0)
    errno = 0; /* an ordinary user may not; then it is one among equals */
}

/* Nothing is measured: it must not take the room that measured pulls need. */
static gboolean is_play(const struct ew_record_options *o) {
  gboolean play = TRUE;
  for (int i = 0; o->sources[i]; i++)
    play &=
        g_str_has_prefix(o->sources[i], "practice:") || g_str_has_prefix(o->sources[i], "replay:");
  return play;
}

static void run(struct ew_session *live, atomic_int *stop) {
  int former = getpriority(PRIO_PROCESS, (id_t)gettid());
  go_at(MIN(former, -10));
  double end_s = ew_monotonic_s() + live->options->for_s;
  while (!*stop && !live->stop && !all_ended(live)) {
    double now = ew_monotonic_s();
    if (now > end_s || (is_play(live->options) && ew_store_is_full(live->store)))
      break;
    for (guint i = 0; i < live->feeds->len; i++) {
      struct ew_feed *f = g_ptr_array_index(live->feeds, i);
      ew_feed_read(f, now);
      ew_session_watch_silence(f, ew_monotonic_s());
    }
    ew_session_tell_in_pull(live);
    ew_session_step_outputs(live, ew_monotonic_s());
    ew_session_heartbeat(live, now);
    ew_store_watch(live->store, now);
    wait_for_news(live);
  }
  for (guint i = 0; i < live->feeds->len; i++)
    ew_feed_end_section(g_ptr_array_index(live->feeds, i), EW_END_STOPPED);
  go_at(former);
}

static int rising(gconstpointer a, gconstpointer b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double share_of(const GArray *sorted, double share) {
  return sorted->len ? g_array_index(sorted, double, (guint)(share * (sorted->len - 1)))
                     : (double)NAN;
}

EW_MESSAGE(ended_empty, "desk.ended-without-samples", EW_NOTE, "ended; no sample came");
EW_MESSAGE(ended_unstored, "desk.ended-without-rows", EW_NOTE, "ended; nothing was stored");
EW_MESSAGE(ended, "desk.ended", EW_NOTE,
           "ended; alarms decided within {decided} ms and rows stored within {stored} ms (99 of "
           "100)");

static ew_message *end_message(const struct ew_session *live, const GArray *durable) {
  if (!live->decisions->len)
    return ew_message_plain(&ended_empty);
  if (!durable->len)
    return ew_message_plain(&ended_unstored);
  return ew_message(&ended, ew_say_figure("decided", 1e3 * share_of(live->decisions, 0.99), 2),
                    ew_say_figure("stored", 1e3 * share_of(durable, 0.99), 0));
}

static void tell_end(struct ew_session *live, gboolean good, const GArray *durable) {
  struct ew_json json = ew_session_news(EW_RECORD_END);
  ew_json_open_array(&json, "sources");
  for (guint i = 0; i < live->feeds->len; i++) {
    const struct ew_feed *f = g_ptr_array_index(live->feeds, i);
    ew_json_open(&json, NULL);
    ew_json_text(&json, "source", f->source->url);
    ew_json_integer(&json, "rows", (gint64)f->rows);
    ew_json_number(&json, "rate_hz", 1 / f->period_s);
    ew_json_number(&json, "longest_wait_s", f->burst_s);
    ew_json_number(&json, "late_s", f->clock.late_s);
    ew_json_number(&json, "clock_offset_s", f->clock.offset_s);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  g_array_sort(live->decisions, rising);
  ew_json_boolean(&json, "all_stored", good);
  ew_json_number(&json, "decision_p50_s", share_of(live->decisions, 0.5));
  ew_json_number(&json, "decision_p99_s", share_of(live->decisions, 0.99));
  ew_json_number(&json, "durable_p50_s", share_of(durable, 0.5));
  ew_json_number(&json, "durable_p99_s", share_of(durable, 0.99));
  ew_session_post(live, EW_RECORD_END, &json, end_message(live, durable));
}

static gboolean open_session(struct ew_session *live, gint64 engine_id, GError **error) {
  const struct ew_record_options *o = live->options;
  struct ew_store_options store = {.path = o->book_path, .engine_id = engine_id, .power = o->power};
  struct ew_add_options add = {
      .engine = o->engine, .sets = o->sets, .changed = o->changed, .channel_map = o->channel_map};
  live->store = ew_store_open(&store, ew_session_store_says, live, error);
  live->shop =
      live->store ? ew_pull_shop_open(o->book_path, &add, ew_session_pull_says, live, error) : NULL;
  live->gate =
      live->shop ? ew_gate_open(o->book_path, engine_id, ew_session_gate_says, live, error) : NULL;
  if (live->shop && !live->gate)
    ew_pull_shop_close(live->shop, &live->said, NULL); /* why there is no gate is reported */
  return live->gate != NULL;
}

static gboolean open_sensors(struct ew_session *live, GError **error) {
  const char *yaml = live->options->sensors_yaml;
  g_autoptr(ew_node) root = yaml ? ew_node_parse("sensors", yaml, strlen(yaml), error) : NULL;
  live->sensors = root ? ew_sensors_read(root, "sensors", error) : NULL;
  return !yaml || live->sensors;
}

static gboolean settle_engine(struct ew_book *book, const char *name, gint64 *id, GError **error) {
  struct ew_engine_row row;
  if (!(name ? ew_engine_get : ew_engine_find)(book, name, &row, error))
    return FALSE;
  *id = row.id;
  ew_engine_row_clear(&row);
  return TRUE;
}

EW_MESSAGE(started_power, "desk.started-power", EW_NOTE,
           "recording into {book}; what is reported as stored survives a power cut");
EW_MESSAGE(started_process, "desk.started-process", EW_NOTE,
           "recording into {book}; what is reported as stored survives this program");

static void tell_started(struct ew_session *live) {
  struct ew_json json = ew_session_news(EW_RECORD_STARTED);
  ew_json_text(&json, "durability", live->options->power ? "power" : "process");
  ew_json_open_array(&json, "sources");
  for (int i = 0; live->options->sources[i]; i++)
    ew_json_text(&json, NULL, live->options->sources[i]);
  ew_json_close_array(&json);
  ew_session_post(live, EW_RECORD_STARTED, &json,
                  ew_message(live->options->power ? &started_power : &started_process,
                             ew_say_text("book", live->options->book_path)));
}

EW_MESSAGE(said_before, "desk.setup-said-before", EW_CAUTION,
           "said before, and no pull was kept with it yet; it goes with the next one: {set}");

/* What an earlier session left over is reported, not slipped in. */
static void tell_said_before(struct ew_session *live) {
  g_autofree char *left = ew_pull_shop_said(live->shop);
  struct ew_said said = {0};
  ew_said_read(left, &said);
  for (guint i = 0; said.sets && i < said.sets->len; i++) {
    const char *set = said.sets->pdata[i];
    ew_session_post_setup(live, set, NULL, ew_message(&said_before, ew_say_text("set", set)));
  }
  if (said.changed && g_strcmp0(said.changed, live->options->changed) != 0)
    ew_session_post_setup(live, NULL, said.changed,
                          ew_message(&said_before, ew_say_text("set", said.changed)));
  ew_said_clear(&said);
}

EW_MESSAGE(said_lost, "desk.setup-not-kept", EW_DANGER,
           "NOT KEPT for the next pull, say it again: {set} ({why})");

static void close_shop(struct ew_session *live) {
  g_autofree char *left = ew_said_write(&live->said);
  g_autoptr(GError) problem = NULL;
  if (!ew_pull_shop_close(live->shop, &live->said, &problem))
    ew_session_post_setup(live, NULL, NULL,
                          ew_message(&said_lost, ew_say_text("set", left ? left : ""),
                                     ew_say_text("why", problem->message)));
}

static gboolean run_session(struct ew_session *live, atomic_int *stop, GError **error) {
  g_autoptr(ew_book) book = ew_book_open(live->options->book_path, TRUE, error);
  if (!book || !settle_engine(book, live->options->engine, &live->engine_id, error) ||
      !recover(live, book, error) || !ew_session_read_stood(live, book, error) ||
      !open_sensors(live, error) || !(live->profiles = ew_profiles_read(book, error)) ||
      !ew_session_open_outputs(live, error) || !ew_session_open_alarms(live, book, error) ||
      !open_session(live, live->engine_id, error)) {
    if (live->store)
      ew_store_close(live->store, NULL, NULL);
    return FALSE;
  }
  tell_started(live);
  tell_said_before(live);
  ew_session_tell_asleep(live);
  ew_session_take_up(live);
  g_clear_pointer(&book, ew_book_close);
  run(live, stop);
  g_clear_pointer(&live->outputs, ew_outputs_free); /* what was asked for is done first */
  ew_gate_close(live->gate);
  close_shop(live);
  g_autoptr(GArray) durable = ew_store_latencies(live->store);
  gboolean good = ew_store_close(live->store, EW_END_STOPPED, error);
  tell_end(live, good, durable);
  return good;
}

/* The book is opened before anything else, and held open: what isn't a book of ours, or can't be written, is refused
 * before a source is asked, and a second recorder must not even knock at the first one's source. A book that begins
 * with a recording is made when its sources are known to be sound. */
struct holding {
  struct ew_book *book;
  struct ew_book_lock *lock;
};

static gboolean hold(const char *path, struct holding *h, GError **error) {
  h->book = ew_book_open(path, TRUE, error);
  if (h->book && ew_book_is_read_only(h->book))
    return ew_fail(error,
                   "%s: the book is read-only: its disk is full, or the file or its folder can't "
                   "be written",
                   path);
  h->lock = h->book ? ew_book_lock_take(path, error) : NULL;
  return h->lock != NULL;
}

static void let_go(struct holding *h) {
  ew_book_lock_release(h->lock);
  ew_book_close(h->book);
}

gboolean ew_record_run(const struct ew_record_options *options, ew_record_says says, gpointer user,
                       atomic_int *stop, GError **error) {
  struct ew_session live = {.options = options, .says = says, .user = user, .speed_arrival_s = NAN};
  ew_monotonic_s();
  g_autofree char *folder = g_path_get_dirname(options->book_path);
  g_mkdir_with_parents(folder, 0700);
  struct holding held = {0};
  if (is_play(options) && !ew_room_for(options->book_path, 0, error))
    return FALSE;
  if (g_file_test(options->book_path, G_FILE_TEST_EXISTS) &&
      !hold(options->book_path, &held, error)) {
    let_go(&held);
    return FALSE;
  }
  live.feeds = g_ptr_array_new_with_free_func((GDestroyNotify)ew_feed_free);
  live.decisions = g_array_new(FALSE, FALSE, sizeof(double));
  live.control = g_string_new(NULL);
  live.trips = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_trip));
  live.near = g_array_new(FALSE, FALSE, sizeof(struct ew_alarm_near));
  live.both = g_array_new(FALSE, FALSE, sizeof(struct ew_both));
  ew_session_news_open(&live);
  gboolean good = open_feeds(&live, error);
  good = good && (held.lock || hold(options->book_path, &held, error)) &&
         run_session(&live, stop, error);
  ew_session_news_close(&live);
  g_ptr_array_unref(live.feeds);
  ew_outputs_free(live.outputs);
  ew_alarm_table_free(live.machine);
  g_free(live.stood);
  ew_sensors_free(live.sensors);
  ew_profiles_free(live.profiles);
  ew_alarms_free(live.alarms);
  ew_own_curves_free(live.own);
  g_array_unref(live.trips);
  g_array_unref(live.near);
  g_array_unref(live.both);
  g_clear_pointer(&live.raised, g_ptr_array_unref);
  g_array_unref(live.decisions);
  g_string_free(live.control, TRUE);
  ew_said_clear(&live.said);
  let_go(&held);
  return good;
}
