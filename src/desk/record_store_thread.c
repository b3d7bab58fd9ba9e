/* The writing thread of a live session: what is pending is taken under the mutex, stored outside it, and put back in
 * front when the transaction fails.
 *
 *    pending --take--> taken --commit--> stored, acknowledged (latency measured here)
 *       ^                |
 *       +---put back-----+  the transaction failed: told once, tried again every half second */
#include "base/error.h"
#include "book/keep.h"
#include "cell/source.h"
#include "desk/record_store_parts.h"
#include <malloc.h>
#include <math.h>
#include <string.h>

#define WAIT_S    0.02 /* rows gather for so long before they are committed */
#define RETRY_S   0.5
#define GIVE_UP_S 10.0 /* at the end, with a disk that takes nothing */
#define LATENCIES 65536u
#define TRIM_S    60.0 /* so often what is free goes back to the system */

EW_MESSAGE(disk_error, "desk.disk-error", EW_DANGER, "{error}");

/* What one transaction takes out of a section. */
struct taken {
  struct ew_section *section;
  GArray *rows;
  double oldest_arrival_s;
  gboolean end;
  gint64 id, sequence;
};

static GArray *take(struct ew_store *store) {
  GArray *all = g_array_new(FALSE, FALSE, sizeof(struct taken));
  store->under_way_s = INFINITY;
  store->waiting = 0;
  for (guint i = 0; i < store->sections->len; i++) {
    struct ew_section *s = g_ptr_array_index(store->sections, i);
    gboolean end = s->end && !s->ended && s->cuts == 0;
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
    ew_store_check_section(s);
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
    ew_store_check_section(s);
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
    ew_store_check_section(s);
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

/* A mark of a source that has sent its header and no row yet: it has no recording to belong to. */
static gboolean is_early(const struct note *note, const GArray *all) {
  const struct ew_section *s = note->trip ? NULL : note->section;
  for (guint i = 0; s && i < all->len; i++)
    if (g_array_index(all, struct taken, i).section == s)
      return FALSE;
  return s && !s->recording_id && !s->end;
}

/* With the mutex held: what can be stored now; the rest waits on, in its order. */
static void take_notes(struct ew_store *store, const GArray *all, GQueue *notes) {
  GQueue early = G_QUEUE_INIT;
  for (struct note *note; (note = g_queue_pop_head(&store->notes));)
    g_queue_push_tail(is_early(note, all) ? &early : notes, note);
  store->notes = early;
}

/* Returns FALSE when there was nothing to do. */
static gboolean store_once(struct ew_store *store) {
  GQueue notes = G_QUEUE_INIT;
  g_mutex_lock(&store->mutex);
  g_autoptr(GArray) all = take(store);
  take_notes(store, all, &notes);
  g_mutex_unlock(&store->mutex);
  if (all->len == 0 && g_queue_is_empty(&notes))
    return FALSE;
  g_autoptr(GError) problem = NULL;
  if (transact(store, all, &notes, &problem)) {
    if (g_atomic_int_get(&store->failing))
      store->says(EW_STORE_GOOD_AGAIN, NULL, NULL, store->user);
    g_atomic_int_set(&store->failing, FALSE);
    acknowledge(store, all);
    g_queue_clear_full(&notes, (GDestroyNotify)ew_store_note_free);
    return TRUE;
  }
  put_back(store, all, &notes);
  if (!g_atomic_int_get(&store->failing))
    ew_store_report(store, EW_STORE_FAILED, NULL,
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
    any |= s->pending->len > 0 || (s->end && !s->ended && s->cuts == 0);
  }
  return any;
}

/* Blocks of all sizes come and go in a session; the C library keeps what is freed in the middle of its arenas, so that a session grew by
 * some megabytes an hour with nothing lost. Under 2 ms for 20 MB (each arena is locked while it is looked through), on the thread that waits
 * for the disk anyway. Where the C library has no such call, it keeps its own ways. */
static void give_memory_back(double *next_s) {
  double now_s = ew_monotonic_s();
  if (now_s < *next_s)
    return;
  *next_s = now_s + TRIM_S;
#ifdef __GLIBC__
  malloc_trim(0);
#endif
}

gpointer ew_store_thread(gpointer user) {
  struct ew_store *store = user;
  double stop_s = NAN, trim_s = 0;
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
    give_memory_back(&trim_s);
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
