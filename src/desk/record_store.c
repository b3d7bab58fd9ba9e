/* What the live thread hands over to be stored, and may ask about it: it never waits for the disk. What is pending is bounded
 * (256 MB); beyond that new rows are given up, counted and told, and the alarms go on. The thread that stores:
 * record_store_thread.c. */
#include "desk/record_store_parts.h"
#include "base/language.h"
#include "base/error.h"
#include "book/store.h"
#include "book/room.h"
#include <math.h>
#include <string.h>

#define CHECK_S 0.2 /* between checkpoints */
#define MOST    (256u << 20)
#define SLOW_S  0.5 /* a row is told to be late; in order it is stored within a tenth of a second */

const char *const ew_store_news_words[] = {
#define X(id, word) word,
    EW_STORE_NEWS(X)
#undef X
};

void ew_store_note_free(struct note *note) {
  g_free(note->text);
  g_free(note->name);
  g_free(note->action);
  g_free(note->says);
  g_free(note->key);
  g_free(note->sections);
  g_free(note->times_s);
  g_free(note->places);
  g_free(note);
}

static void section_free(struct ew_section *s) {
  g_strfreev(s->names);
  g_strfreev(s->units);
  g_array_unref(s->pending);
  g_free(s);
}

static char **copy(char *const *texts, guint count) {
  char **all = g_new0(char *, count + 1);
  for (guint i = 0; i < count; i++)
    all[i] = g_strdup(texts[i]);
  return all;
}

void ew_store_check_section(const struct ew_section *s) {
  g_assert(s->pending->len % s->columns == 0);
  g_assert(s->appended_rows ==
           s->stored_rows + s->taken_rows + s->pending->len / s->columns + s->lost_rows);
  g_assert(s->stored_rows == 0 || s->recording_id > 0);
}

struct ew_section *ew_store_section(struct ew_store *store, const char *source,
                                    const struct ew_source_channels *channels) {
  struct ew_section *s = g_new0(struct ew_section, 1);
  s->source = source;
  s->channels = channels->count;
  s->columns = channels->count + 1;
  s->names = copy(channels->names, channels->count);
  s->units = copy(channels->units, channels->count);
  s->pending = g_array_new(FALSE, FALSE, sizeof(double));
  s->stored_s = NAN;
  g_mutex_lock(&store->mutex);
  g_ptr_array_add(store->sections, s);
  g_mutex_unlock(&store->mutex);
  return s;
}

EW_MESSAGE(memory_full, "desk.memory-full", EW_DANGER,
           "more rows are waiting than memory is set aside for: rows are lost from here on");
EW_MESSAGE(disk_low, "desk.disk-low", EW_CAUTION,
           "the disk is nearly full: {left} MB left. Measured rows are stored until it accepts no "
           "more, practice ends at the last {floor} MB: free some space");
EW_MESSAGE(disk_room, "desk.disk-room", EW_NOTE, "the disk has room again");
EW_MESSAGE_MANY(disk_slow, "desk.disk-slow", EW_CAUTION,
                "the disk is slow: {rows} row is waiting, for {time}; alarms and screen go on",
                "the disk is slow: {rows} rows are waiting, the oldest for {time}; alarms and "
                "screen go on");
EW_MESSAGE(disk_fast, "desk.disk-fast", EW_NOTE,
           "the disk keeps up again: rows waited for {time} and are stored now");

void ew_store_report(struct ew_store *store, enum ew_store_news news, const struct ew_section *s,
                     ew_message *given) {
  g_autoptr(ew_message) why = given;
  store->says(news, s, why, store->user);
}

void ew_store_append(struct ew_store *store, struct ew_section *s, double time_s, double arrival_s,
                     const double *values) {
  gsize most = store->options.pending_most ? store->options.pending_most : MOST;
  g_mutex_lock(&store->mutex);
  s->appended_rows++;
  gboolean room = s->pending->len * sizeof(double) < most;
  gboolean first_lost = !room && s->lost_rows == 0;
  if (room) {
    if (s->pending->len == 0)
      s->oldest_arrival_s = arrival_s;
    g_array_append_val(s->pending, time_s);
    g_array_append_vals(s->pending, values, s->channels);
  } else
    s->lost_rows++;
  ew_store_check_section(s);
  if (s->pending->len == s->columns)
    g_cond_signal(&store->news);
  g_mutex_unlock(&store->mutex);
  if (first_lost)
    ew_store_report(store, EW_STORE_LOST, s, ew_message_plain(&memory_full));
}

static void watch_room(struct ew_store *store) {
  gint left = g_atomic_int_get(&store->left_mb);
  gboolean low = left < (gint)(store->floor_mb);
  if (low == store->low)
    return;
  store->low = low;
  if (low)
    ew_store_report(store, EW_STORE_LOW, NULL,
                    ew_message(&disk_low, ew_say_count("left", left + (gint)store->floor_mb),
                               ew_say_count("floor", store->floor_mb)));
  else
    ew_store_report(store, EW_STORE_ROOM, NULL, ew_message_plain(&disk_room));
}

void ew_store_watch(struct ew_store *store, double now_s) {
  watch_room(store);
  double slow_s = store->options.slow_s > 0 ? store->options.slow_s : SLOW_S;
  g_mutex_lock(&store->mutex);
  double oldest_s = store->under_way_s;
  guint64 rows = store->waiting;
  for (guint i = 0; i < store->sections->len; i++) {
    const struct ew_section *s = g_ptr_array_index(store->sections, i);
    if (s->pending->len)
      oldest_s = fmin(oldest_s, s->oldest_arrival_s);
    rows += s->pending->len / s->columns;
  }
  g_mutex_unlock(&store->mutex);
  double waits_s = isfinite(oldest_s) ? now_s - oldest_s : 0;
  gboolean failing = g_atomic_int_get(&store->failing); /* reported already, with its reason */
  if (!store->slow && !failing && waits_s > slow_s) {
    store->slow = TRUE;
    store->slow_since_s = now_s - waits_s;
    ew_store_report(store, EW_STORE_SLOW, NULL,
                    ew_message(&disk_slow, ew_say_count("rows", (gint64)rows),
                               ew_say_quantity("time", EW_KIND_TIME, waits_s, 1)));
  } else if (store->slow && !failing && waits_s < slow_s / 2) {
    store->slow = FALSE;
    ew_store_report(store, EW_STORE_FAST_AGAIN, NULL,
                    ew_message(&disk_fast, ew_say_quantity("time", EW_KIND_TIME,
                                                           now_s - store->slow_since_s, 1)));
  }
}

void ew_store_end_section(struct ew_store *store, struct ew_section *s, const char *how) {
  g_mutex_lock(&store->mutex);
  if (!s->end)
    s->end = how;
  g_cond_signal(&store->news);
  g_mutex_unlock(&store->mutex);
}

void ew_store_cut_begins(struct ew_store *store, struct ew_section *s) {
  g_mutex_lock(&store->mutex);
  g_assert(!s->ended);
  s->cuts++;
  g_mutex_unlock(&store->mutex);
}

void ew_store_cut_ends(struct ew_store *store, struct ew_section *s) {
  g_mutex_lock(&store->mutex);
  g_assert(s->cuts > 0 && !s->ended);
  s->cuts--;
  g_cond_signal(&store->news);
  g_mutex_unlock(&store->mutex);
}

static void push_note(struct ew_store *store, struct note *note) {
  g_mutex_lock(&store->mutex);
  g_queue_push_tail(&store->notes, note);
  g_cond_signal(&store->news);
  g_mutex_unlock(&store->mutex);
}

void ew_store_mark(struct ew_store *store, struct ew_section *section, double time_s,
                   const char *text) {
  struct note *note = g_new0(struct note, 1);
  note->section = section;
  note->time_s = time_s;
  note->text = g_strdup(text);
  push_note(store, note);
}

void ew_store_setting(struct ew_store *store, const char *key, const char *value) {
  struct note *note = g_new0(struct note, 1);
  note->key = g_strdup(key);
  note->text = g_strdup(value);
  push_note(store, note);
}

void ew_store_trip(struct ew_store *store, struct ew_section *const *sections,
                   const double *times_s, guint count, const struct ew_trip_row *row) {
  struct note *note = g_new0(struct note, 1);
  note->sections = g_memdup2(sections, count * sizeof *sections);
  note->times_s = g_memdup2(times_s, count * sizeof *times_s);
  note->count = count;
  note->trip = TRUE;
  note->row = *row;
  note->row.name = note->name = g_strdup(row->name);
  note->row.action = note->action = g_strdup(row->action);
  note->row.says = note->says = g_strdup(row->says);
  push_note(store, note);
}

gboolean ew_store_has(struct ew_store *store, const struct ew_section *s, gint64 rows) {
  g_mutex_lock(&store->mutex);
  gboolean has = s->stored_rows + s->lost_rows >= rows;
  g_mutex_unlock(&store->mutex);
  return has;
}

gboolean ew_store_anchor(struct ew_store *store, const struct ew_section *s,
                         struct ew_cut_anchor *anchor) {
  g_mutex_lock(&store->mutex);
  *anchor = (struct ew_cut_anchor){s->sequence, s->stored_rows};
  gboolean whole = s->lost_rows == 0;
  g_mutex_unlock(&store->mutex);
  return whole;
}

static void look_at_room(struct ew_store *store) {
  gint64 left = ew_room_left(store->path) >> 20;
  g_atomic_int_set(&store->left_mb, (gint)CLAMP(left, -1, G_MAXINT));
}

gboolean ew_store_is_full(struct ew_store *store) {
  return g_atomic_int_get(&store->left_mb) <= 0;
}

static gpointer check_thread(gpointer user) {
  struct ew_store *store = user;
  while (!g_atomic_int_get(&store->checked_out)) {
    g_usleep((gulong)(CHECK_S * 1e6));
    look_at_room(store);
    ew_book_checkpoint(store->checker, FALSE, NULL);
  }
  return NULL;
}

struct ew_store *ew_store_open(const struct ew_store_options *options, ew_store_says says,
                               gpointer user, GError **error) {
  struct ew_store *store = g_new0(struct ew_store, 1);
  store->options = *options;
  store->path = g_strdup(options->path);
  store->name = g_strdup(options->name);
  store->says = says;
  store->user = user;
  g_mutex_init(&store->mutex);
  g_cond_init(&store->news);
  g_queue_init(&store->notes);
  store->under_way_s = INFINITY;
  store->sections = g_ptr_array_new_with_free_func((GDestroyNotify)section_free);
  store->latencies = g_array_new(FALSE, FALSE, sizeof(double));
  store->book = ew_book_open(store->path, FALSE, error);
  store->checker = store->book ? ew_book_open(store->path, FALSE, error) : NULL;
  store->floor_mb = ew_room_floor(store->path) >> 20;
  look_at_room(store);
  if (store->checker && ew_book_live(store->book, options->power, error) &&
      ew_book_live(store->checker, options->power, error)) {
    store->thread = g_thread_new("store", ew_store_thread, store);
    store->checking = g_thread_new("checkpoint", check_thread, store);
    return store;
  }
  ew_store_close(store, NULL, NULL);
  return NULL;
}

static gint64 rows_given_up(const struct ew_store *store) {
  gint64 rows = 0;
  for (guint i = 0; i < store->sections->len; i++) {
    const struct ew_section *s = g_ptr_array_index(store->sections, i);
    rows += s->lost_rows + s->pending->len / s->columns;
  }
  return rows;
}

gboolean ew_store_close(struct ew_store *store, const char *how, GError **error) {
  if (store->thread) {
    for (guint i = 0; i < store->sections->len; i++)
      ew_store_end_section(store, g_ptr_array_index(store->sections, i), how);
    g_mutex_lock(&store->mutex);
    store->stopping = TRUE;
    g_cond_signal(&store->news);
    g_mutex_unlock(&store->mutex);
    g_thread_join(store->thread);
    g_atomic_int_set(&store->checked_out, 1);
    g_thread_join(store->checking);
  }
  gint64 lost = rows_given_up(store);
  if (store->checker && !store->given_up)
    ew_book_checkpoint(store->checker, TRUE, NULL);
  ew_book_close(store->checker);
  ew_book_close(store->book);
  g_ptr_array_unref(store->sections);
  g_queue_clear_full(&store->notes, (GDestroyNotify)ew_store_note_free);
  g_array_unref(store->latencies);
  g_mutex_clear(&store->mutex);
  g_cond_clear(&store->news);
  g_free(store->path);
  g_free(store->name);
  g_free(store);
  return lost == 0 ||
         ew_fail(error,
                 ew_tr_many("%" G_GINT64_FORMAT " row could not be stored: the disk accepted no "
                            "more; everything reported as stored is in the book",
                            "%" G_GINT64_FORMAT " rows could not be stored: the disk accepted no "
                            "more; everything reported as stored is in the book",
                            (guint64)lost),
                 lost);
}

static int rising(gconstpointer a, gconstpointer b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

GArray *ew_store_latencies(struct ew_store *store) {
  g_mutex_lock(&store->mutex);
  GArray *copy_of = g_array_copy(store->latencies);
  g_mutex_unlock(&store->mutex);
  g_array_sort(copy_of, rising);
  return copy_of;
}
