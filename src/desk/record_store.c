/* The writing thread of a live session: what is pending is taken under the mutex, stored outside it, and put back in
 * front when the transaction fails. What is pending is bounded (256 MB); beyond that new rows are given up, counted
 * and told, and the alarms go on.
 *
 *    pending --take--> taken --commit--> stored, acknowledged (latency measured here)
 *       ^                |
 *       +---put back-----+  the transaction failed: told once, tried again every half second */
#include "desk/record_store.h"
#include "base/language.h"
#include "base/error.h"
#include "book/keep.h"
#include "book/store.h"
#include "book/room.h"
#include <math.h>
#include <string.h>

#define WAIT_S    0.02 /* rows gather for so long before they are committed */
#define RETRY_S   0.5
#define CHECK_S   0.2  /* between checkpoints */
#define GIVE_UP_S 10.0 /* at the end, with a disk that takes nothing */
#define MOST      (256u << 20)
#define LATENCIES 65536u
#define SLOW_S    0.5 /* a row is told to be late; in order it is stored within a tenth of a second */

const char *const ew_store_news_words[] = {
#define X(id, word) word,
    EW_STORE_NEWS(X)
#undef X
};

struct note {
  struct ew_section *section;   /* of a mark */
  struct ew_section **sections; /* of a trip */
  double *times_s;
  guint count;
  gboolean trip;
  double time_s;
  struct ew_live_place *places; /* the same, as the book wants them */
  char *text;
  struct ew_trip_row row;
  char *name, *action, *says;
  char *key; /* of a setting, whose value is `text` */
};

struct ew_store {
  struct ew_store_options options;
  char *path, *name;
  ew_store_says says;
  gpointer user;
  GMutex mutex;
  GCond news;
  GPtrArray *sections; /* struct ew_section* */
  GQueue notes;        /* struct note* */
  gboolean stopping, given_up;
  gint failing;        /* atomic */
  double under_way_s;  /* arrival of the oldest row of the transaction under way; NaN: none */
  guint64 waiting;     /* rows of it */
  gboolean slow;       /* told; of the live thread alone */
  double slow_since_s; /* when it was told */
  struct ew_book *book, *checker;
  GThread *thread, *checking;
  GArray *latencies;
  guint next_latency;
  gint checked_out; /* atomic: the checkpoint thread shall end */
  gint left_mb; /* atomic: room on the disk above its floor, as the checkpoint thread last saw it */
  gint64 floor_mb;
  gboolean low; /* told; of the live thread alone */
};

/* What one transaction takes out of a section. */
struct taken {
  struct ew_section *section;
  GArray *rows;
  double oldest_arrival_s;
  gboolean end;
  gint64 id, sequence;
};

static void note_free(struct note *note) {
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

/* With the mutex held: every row that was given is stored, on its way, waiting or lost, and counted once. */
static void check_section(const struct ew_section *s) {
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
EW_MESSAGE(disk_error, "desk.disk-error", EW_DANGER, "{error}");

/* Takes the message. */
static void report(struct ew_store *store, enum ew_store_news news, const struct ew_section *s,
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
  check_section(s);
  if (s->pending->len == s->columns)
    g_cond_signal(&store->news);
  g_mutex_unlock(&store->mutex);
  if (first_lost)
    report(store, EW_STORE_LOST, s, ew_message_plain(&memory_full));
}

static void watch_room(struct ew_store *store) {
  gint left = g_atomic_int_get(&store->left_mb);
  gboolean low = left < (gint)(store->floor_mb);
  if (low == store->low)
    return;
  store->low = low;
  if (low)
    report(store, EW_STORE_LOW, NULL,
           ew_message(&disk_low, ew_say_count("left", left + (gint)store->floor_mb),
                      ew_say_count("floor", store->floor_mb)));
  else
    report(store, EW_STORE_ROOM, NULL, ew_message_plain(&disk_room));
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
    report(store, EW_STORE_SLOW, NULL,
           ew_message(&disk_slow, ew_say_count("rows", (gint64)rows),
                      ew_say_quantity("time", EW_KIND_TIME, waits_s, 1)));
  } else if (store->slow && !failing && waits_s < slow_s / 2) {
    store->slow = FALSE;
    report(store, EW_STORE_FAST_AGAIN, NULL,
           ew_message(&disk_fast,
                      ew_say_quantity("time", EW_KIND_TIME, now_s - store->slow_since_s, 1)));
  }
}

void ew_store_end_section(struct ew_store *store, struct ew_section *s, const char *how) {
  g_mutex_lock(&store->mutex);
  if (!s->end)
    s->end = how;
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

static GArray *take(struct ew_store *store) {
  GArray *all = g_array_new(FALSE, FALSE, sizeof(struct taken));
  store->under_way_s = INFINITY;
  store->waiting = 0;
  for (guint i = 0; i < store->sections->len; i++) {
    struct ew_section *s = g_ptr_array_index(store->sections, i);
    gboolean end = s->end && !s->ended;
    if (s->pending->len == 0 && (!end || !s->recording_id)) {
      s->ended |= end; /* nothing ever came: no recording is made of it */
      continue;
    }
    if (s->pending->len) {
      store->under_way_s = fmin(store->under_way_s, s->oldest_arrival_s);
      store->waiting += s->pending->len / s->columns;
    }
    struct taken one = {s, s->pending, s->oldest_arrival_s, end, s->recording_id, s->sequence};
    s->pending = g_array_new(FALSE, FALSE, sizeof(double));
    s->taken_rows = one.rows->len / s->columns;
    check_section(s);
    g_array_append_val(all, one);
  }
  return all;
}

/* The transaction failed: all goes back where it was, before what came meanwhile. */
static void put_back(struct ew_store *store, GArray *all, GQueue *notes) {
  g_mutex_lock(&store->mutex);
  for (guint i = 0; i < all->len; i++) {
    struct taken *one = &g_array_index(all, struct taken, i);
    struct ew_section *s = one->section;
    if (one->rows->len)
      s->oldest_arrival_s = one->oldest_arrival_s;
    g_array_append_vals(one->rows, s->pending->data, s->pending->len);
    g_array_unref(s->pending);
    s->pending = one->rows;
    s->taken_rows = 0;
    check_section(s);
  }
  for (gpointer note; (note = g_queue_pop_tail(notes));)
    g_queue_push_head(&store->notes, note);
  store->under_way_s = INFINITY;
  store->waiting = 0;
  g_mutex_unlock(&store->mutex);
}

static struct ew_live_part part_of(const struct ew_store *store, const struct taken *one,
                                   struct ew_stream_facts *facts) {
  const struct ew_section *s = one->section;
  *facts = (struct ew_stream_facts){store->options.engine_id,
                                    store->name ? store->name : s->source,
                                    s->source,
                                    store->options.power ? "power" : "process",
                                    s->names,
                                    s->units,
                                    s->channels};
  return (struct ew_live_part){.id = one->id,
                               .facts = facts,
                               .sequence = one->sequence,
                               .values = (const double *)(void *)one->rows->data,
                               .rows = one->rows->len / s->columns,
                               .columns = s->columns,
                               .end = one->end ? s->end : NULL};
}

/* Where a section is stored: by this transaction, or by an earlier one; nowhere while no row of it came. */
static struct ew_live_place place_of(const GArray *all, const struct ew_live_part *parts,
                                     const struct ew_section *section, double time_s) {
  for (guint i = 0; i < all->len; i++)
    if (g_array_index(all, struct taken, i).section == section)
      return (struct ew_live_place){.part = &parts[i], .time_s = time_s};
  return (struct ew_live_place){.recording_id = section->recording_id, .time_s = time_s};
}

static struct ew_live_note note_of(const GArray *all, const struct ew_live_part *parts,
                                   struct note *note) {
  guint count = note->trip ? note->count : note->section != NULL;
  note->places = g_renew(struct ew_live_place, note->places, count + 1);
  for (guint i = 0; i < count; i++)
    note->places[i] = note->trip ? place_of(all, parts, note->sections[i], note->times_s[i])
                                 : place_of(all, parts, note->section, note->time_s);
  return (struct ew_live_note){note->key, note->text, note->trip ? &note->row : NULL, note->places,
                               count};
}

static gboolean transact(struct ew_store *store, GArray *all, GQueue *notes, GError **error) {
  g_autofree struct ew_live_part *parts = g_new0(struct ew_live_part, all->len + 1);
  g_autofree struct ew_stream_facts *facts = g_new0(struct ew_stream_facts, all->len + 1);
  g_autofree struct ew_live_note *rows = g_new0(struct ew_live_note, notes->length + 1);
  gsize count = 0;
  for (guint i = 0; i < all->len; i++)
    parts[i] = part_of(store, &g_array_index(all, struct taken, i), &facts[i]);
  for (GList *at = notes->head; at; at = at->next)
    rows[count++] = note_of(all, parts, at->data);
  if (!ew_keep_live(store->book, parts, all->len, rows, count, error))
    return FALSE;
  for (guint i = 0; i < all->len; i++) {
    struct taken *one = &g_array_index(all, struct taken, i);
    one->id = parts[i].kept_id;
    one->sequence = parts[i].kept_sequence;
  }
  return TRUE;
}

static void acknowledge(struct ew_store *store, GArray *all) {
  double now = ew_monotonic_s();
  g_mutex_lock(&store->mutex);
  store->under_way_s = INFINITY;
  store->waiting = 0;
  g_mutex_unlock(&store->mutex);
  for (guint i = 0; i < all->len; i++) {
    struct taken *one = &g_array_index(all, struct taken, i);
    struct ew_section *s = one->section;
    gsize rows = one->rows->len / s->columns;
    double latency = now - one->oldest_arrival_s;
    g_mutex_lock(&store->mutex);
    __atomic_store_n(&s->recording_id, one->id, __ATOMIC_RELEASE);
    s->sequence = one->sequence;
    s->stored_rows += (gint64)rows;
    s->taken_rows = 0;
    check_section(s);
    s->ended |= one->end;
    if (rows)
      s->stored_s = g_array_index(one->rows, double, (rows - 1) * s->columns);
    if (rows && store->latencies->len < LATENCIES)
      g_array_append_val(store->latencies, latency);
    else if (rows)
      g_array_index(store->latencies, double, store->next_latency++ % LATENCIES) = latency;
    g_mutex_unlock(&store->mutex);
    if (rows)
      store->says(EW_STORE_COMMIT, s, NULL, store->user);
    g_array_unref(one->rows);
  }
}

/* Returns FALSE when there was nothing to do. */
static gboolean store_once(struct ew_store *store) {
  GQueue notes = G_QUEUE_INIT;
  g_mutex_lock(&store->mutex);
  g_autoptr(GArray) all = take(store);
  notes = store->notes;
  g_queue_init(&store->notes);
  g_mutex_unlock(&store->mutex);
  if (all->len == 0 && g_queue_is_empty(&notes))
    return FALSE;
  g_autoptr(GError) problem = NULL;
  if (transact(store, all, &notes, &problem)) {
    if (g_atomic_int_get(&store->failing))
      store->says(EW_STORE_GOOD_AGAIN, NULL, NULL, store->user);
    g_atomic_int_set(&store->failing, FALSE);
    acknowledge(store, all);
    g_queue_clear_full(&notes, (GDestroyNotify)note_free);
    return TRUE;
  }
  put_back(store, all, &notes);
  if (!g_atomic_int_get(&store->failing))
    report(store, EW_STORE_FAILED, NULL,
           ew_message(&disk_error, ew_say_text("error", problem->message)));
  g_atomic_int_set(&store->failing, TRUE);
  g_usleep((gulong)(RETRY_S * 1e6));
  return TRUE;
}

/* Something came while the last transaction was under way: its signal found nobody waiting. */
static gboolean anything_waits(const struct ew_store *store) {
  gboolean any = store->notes.head != NULL;
  for (guint i = 0; i < store->sections->len; i++) {
    const struct ew_section *s = g_ptr_array_index(store->sections, i);
    any |= s->pending->len > 0 || (s->end && !s->ended);
  }
  return any;
}

static gpointer store_thread(gpointer user) {
  struct ew_store *store = user;
  double stop_s = NAN;
  for (;;) {
    g_mutex_lock(&store->mutex);
    gboolean stopping = store->stopping;
    if (!stopping && !anything_waits(store))
      g_cond_wait_until(&store->news, &store->mutex, g_get_monotonic_time() + 100000);
    stopping |= store->stopping;
    g_mutex_unlock(&store->mutex);
    if (!stopping)
      g_usleep((gulong)(WAIT_S * 1e6));
    gboolean more = store_once(store);
    if (!stopping)
      continue;
    if (isnan(stop_s))
      stop_s = ew_monotonic_s();
    if (!more)
      return NULL;
    if (g_atomic_int_get(&store->failing) && ew_monotonic_s() > stop_s + GIVE_UP_S) {
      store->given_up = TRUE;
      return NULL;
    }
  }
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
    store->thread = g_thread_new("store", store_thread, store);
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
  g_queue_clear_full(&store->notes, (GDestroyNotify)note_free);
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
