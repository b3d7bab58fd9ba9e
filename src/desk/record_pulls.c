/* The thread behind a live session that stores, reduces and judges pulls, one after another, in the order in which
 * they ended. A pull is judged only when all its rows are stored: what tripped in it is not known before. With a
 * disk that takes nothing it says so after 30 s and goes on. */
#include "desk/record_pulls.h"
#include "desk/alike.h"
#include "base/words.h"
#include "base/error.h"
#include "book/keep.h"
#include "book/stream.h"
#include "cell/source.h"
#include "desk/question.h"
#include "desk/trip.h"
#include <math.h>
#include <string.h>

#define WAIT_MS      30000
#define WAITING_MOST 4 /* with their rows */

struct ew_pull_shop {
  struct ew_book *book;
  struct ew_add_options options;
  GPtrArray *sets;     /* char*: what the session began with, less what was said again since */
  struct ew_said said; /* for the next pull that is kept */
  ew_pull_says says;
  gpointer user;
  GAsyncQueue *queue; /* struct ew_pull_cut*; one without a store ends the thread */
  GThread *thread;
};

static void cut_free(struct ew_pull_cut *cut) {
  g_strfreev(cut->headings);
  if (cut->rows)
    g_array_unref(cut->rows);
  ew_message_free(cut->not_armed);
  g_free(cut->near_json);
  ew_said_clear(&cut->said);
  ew_own_curves_free(cut->own);
  g_free(cut);
}

/* Says it, and lets go of its messages. */
static void say_result(struct ew_pull_shop *shop, struct ew_pull_result *result) {
  result->after_s = ew_monotonic_s() - result->cut->ended_s;
  shop->says(result, shop->user);
  g_clear_pointer(&result->why, ew_message_free);
  g_clear_pointer(&result->line, ew_message_free);
}

/* Only what tripped before this pull's end: a stream that runs faster than pulls are reduced is ahead. */
static gboolean before_end_of(const struct ew_trip_row *t, gint64 pull_id) {
  return t->pull_id ? t->pull_id <= pull_id : t->after_pull < pull_id;
}

EW_MESSAGE(tripped_in, "desk.not-judged-tripped", EW_DANGER, "not judged: {trip}");
EW_MESSAGE(takes_nothing, "desk.not-judged-disk", EW_DANGER,
           "not judged: the disk accepts nothing, so what tripped in it is not known");
EW_MESSAGE(no_earlier, "desk.no-earlier-pull", EW_NOTE,
           "there is no earlier pull to compare it with");
EW_MESSAGE(refused, "desk.refused", EW_CAUTION, "{error}");
EW_MESSAGE(cannot_store, "desk.pull-not-stored", EW_DANGER,
           "the disk accepts nothing: this pull can be neither stored nor judged");
EW_MESSAGE(rows_lost, "desk.pull-rows-lost", EW_DANGER,
           "too long to be held in memory, and the disk did not accept all its rows: this pull can "
           "be neither stored nor judged");
EW_MESSAGE(none_found, "desk.no-pull-found", EW_NOTE, "no pull was found in it");

static ew_message *of_error(const GError *problem) {
  return ew_message(&refused, ew_say_text("error", problem->message));
}

/* What tripped in this pull, or before it without anybody having looked: why it is not judged; NULL. */
static ew_message *trips_before(struct ew_book *book, gint64 pull_id) {
  struct ew_pull_row row;
  if (!ew_pull_get(book, pull_id, &row, NULL))
    return NULL;
  g_autoptr(ew_message) what = row.tripped ? ew_trips_of_pull(book, pull_id) : NULL;
  g_autoptr(GArray) open = ew_trip_open(book, row.engine_id, NULL);
  ew_pull_row_clear(&row);
  for (guint i = 0; open && !what && i < open->len; i++) {
    const struct ew_trip_row *t = &g_array_index(open, struct ew_trip_row, i);
    if (before_end_of(t, pull_id))
      what = ew_trip_message(t);
  }
  return what ? ew_message(&tripped_in, ew_say_message("trip", what)) : NULL;
}

/* A book that could not be read is not one in which nothing tripped. */
static ew_message *why_tripped(struct ew_book *book, gint64 pull_id) {
  ew_book_forget_trouble();
  g_autoptr(ew_message) why = trips_before(book, pull_id);
  g_autoptr(GError) unread = ew_book_take_trouble();
  return unread ? of_error(unread) : g_steal_pointer(&why);
}

EW_MESSAGE(held_pull, "desk.not-judged-held", EW_CAUTION, "held, not judged: {finding}");

/* The doubt that holds it (desk/doubt.h): why it is not judged; NULL. */
static ew_message *why_held(struct ew_book *book, gint64 pull_id) {
  struct ew_pull_row row;
  if (!ew_pull_get(book, pull_id, &row, NULL))
    return NULL;
  g_autoptr(ew_message) finding =
      row.held ? ew_message_read(row.held, strlen(row.held), NULL) : NULL;
  ew_pull_row_clear(&row);
  return finding ? ew_message(&held_pull, ew_say_message("finding", finding)) : NULL;
}

/* What tripped in the pull is in the book when its rows are: nothing is judged before that is known. */
static gboolean wait_for_rows(const struct ew_pull_cut *cut) {
  for (int i = 0; i < WAIT_MS / 10; i++) {
    if (ew_store_has(cut->store, cut->section, cut->until_row))
      return TRUE;
    g_usleep(10000);
  }
  return FALSE;
}

static void judge(struct ew_desk *desk, struct ew_pull_result *result) {
  if (result->cut->not_armed) {
    result->why = ew_message_copy(result->cut->not_armed);
    return;
  }
  if (!wait_for_rows(result->cut)) {
    result->why = ew_message_plain(&takes_nothing);
    return;
  }
  if ((result->why = why_tripped(desk->book, result->pull_id)) ||
      (result->why = why_held(desk->book, result->pull_id)))
    return;
  g_autoptr(GError) unread = NULL;
  struct ew_loaded *pull = ew_desk_load_id(desk, result->pull_id, &unread);
  if (!pull || !ew_desk_judged_against(desk, pull, &result->against, &unread))
    result->why = of_error(unread);
  else if (!result->against)
    result->why = ew_message_plain(&no_earlier);
  ew_loaded_free(pull);
  if (result->why)
    return;
  g_autoptr(GPtrArray) a = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GPtrArray) b = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  g_autoptr(GError) problem = NULL;
  struct ew_loaded *before = ew_desk_load_id(desk, result->against, &problem);
  struct ew_loaded *now = before ? ew_desk_load_id(desk, result->pull_id, &problem) : NULL;
  if (before)
    g_ptr_array_add(a, before);
  if (now)
    g_ptr_array_add(b, now);
  struct ew_question_options question = {
      .margin = NAN, .level = -1, .band_low_rpm = NAN, .band_high_rpm = NAN};
  struct ew_comparison *c =
      now ? ew_ask_compare(desk, a, b, NULL, NULL, &question, &problem) : NULL;
  result->line = c ? ew_comparison_says(c) : NULL;
  result->why = problem ? of_error(problem) : NULL;
  result->verdict = c ? ew_verdict_keys[c->verdict] : NULL;
  ew_comparison_free(c);
}

char *ew_own_curves_key(gint64 engine_id) {
  return g_strdup_printf("own curves %" G_GINT64_FORMAT, engine_id);
}

static void write_own(struct ew_pull_shop *shop, const struct ew_pull_cut *cut) {
  g_autofree char *json = cut->own ? ew_own_curves_to_json(cut->own) : NULL;
  g_autofree char *key = ew_own_curves_key(cut->engine_id);
  if (json)
    ew_keep_setting(shop->book, key, json, NULL);
}

/* Takes the message. */
static void say_none(struct ew_pull_shop *shop, const struct ew_pull_cut *cut, ew_message *why) {
  struct ew_pull_result result = {.cut = cut, .why = why};
  say_result(shop, &result);
}

static void say_pull(struct ew_pull_shop *shop, struct ew_desk *desk, const struct ew_pull_cut *cut,
                     gint64 pull_id, const char *used) {
  g_autoptr(GError) problem = NULL;
  struct ew_loaded *loaded = ew_desk_load_id(desk, pull_id, &problem);
  if (!loaded) {
    say_none(shop, cut, of_error(problem));
    return;
  }
  struct ew_pull_result result = {
      .cut = cut, .pull_id = pull_id, .curve = loaded->curve, .used = used};
  judge(desk, &result);
  say_result(shop, &result);
  ew_loaded_free(loaded);
}

/* A stream that runs faster than the disk may not have been stored at all yet. */
static gboolean wait_for_stream(struct ew_pull_cut *cut) {
  for (int i = 0; i < WAIT_MS / 10; i++) {
    cut->recording_id = __atomic_load_n(&cut->section->recording_id, __ATOMIC_ACQUIRE);
    if (cut->recording_id)
      return TRUE;
    g_usleep(10000);
  }
  return FALSE;
}

/* The rows that it holds; it has none after that. */
static struct ew_frames *frames_of(struct ew_pull_cut *cut) {
  struct ew_frames *frames = g_new0(struct ew_frames, 1);
  g_array_remove_range(cut->rows, 0, (guint)(cut->skip * cut->columns));
  frames->headings = g_strdupv(cut->headings);
  frames->columns = cut->columns;
  frames->rows = cut->rows->len / cut->columns;
  frames->values = (double *)(void *)g_array_free(g_steal_pointer(&cut->rows), FALSE);
  return frames;
}

struct beside {
  const struct ew_frames *seen;
  gsize at;
  gboolean same;
};

static gboolean look_beside(const double *values, gsize rows, gpointer user, GError **error) {
  (void)error;
  struct beside *b = user;
  const double *seen = b->seen->values + b->at * b->seen->columns;
  for (gsize i = 0; b->same && i < rows * b->seen->columns; i++)
    b->same = isnan(seen[i]) ? isnan(values[i]) : memcmp(&seen[i], &values[i], sizeof(double)) == 0;
  b->at += rows;
  return b->same;
}

/* Bit by bit, but that one NaN is as good as another; headings too. */
static gboolean is_same(const struct ew_frames *seen, const struct ew_frames *there) {
  struct beside b = {seen, 0, TRUE};
  return seen->rows == there->rows && seen->columns == there->columns &&
         g_strv_equal((const char *const *)seen->headings, (const char *const *)there->headings) &&
         ew_frames_each(there, look_beside, &b, NULL) && b.same;
}

/* The rows of a cut as the stream has them, and where. A stream with lost rows, or that the disk does not take in time, cannot
 * hold them: NULL. */
static struct ew_frames *stored_rows(struct ew_pull_shop *shop, const struct ew_pull_cut *cut,
                                     struct ew_cut_place *place) {
  struct ew_cut_anchor anchor;
  if (!wait_for_rows(cut) || !ew_store_anchor(cut->store, cut->section, &anchor) ||
      !ew_cut_find(shop->book, cut->recording_id, &anchor, cut->from_row,
                   cut->until_row - cut->from_row, place, NULL))
    return NULL;
  place->sensors = cut->sensors;
  return ew_cut_frames(shop->book, cut->recording_id, place, NULL);
}

/* What it is reduced from; *once: where the stream has these very rows, so that they are not stored a second time. What was held
 * is read back first: only what gives the very figures again counts. NULL: there are none. */
static struct ew_frames *rows_of(struct ew_pull_shop *shop, struct ew_pull_cut *cut,
                                 struct ew_cut_place *place, gboolean *once) {
  g_autoptr(ew_frames) there = stored_rows(shop, cut, place);
  *once = there != NULL;
  if (!cut->rows)
    return g_steal_pointer(&there);
  struct ew_frames *seen = frames_of(cut);
  *once = there && is_same(seen, there);
  return seen;
}

/* What a pull is added with: what the session began with, then what was said since. NULL-terminated; borrows. */
static GPtrArray *sets_of(struct ew_pull_shop *shop, struct ew_pull_cut *cut) {
  ew_said_move(&cut->said, &shop->said);
  ew_said_drop(&shop->said, shop->sets);
  GPtrArray *sets = g_ptr_array_new();
  g_ptr_array_extend(sets, shop->sets, NULL, NULL);
  if (shop->said.sets)
    g_ptr_array_extend(sets, shop->said.sets, NULL, NULL);
  g_ptr_array_add(sets, NULL);
  return sets;
}

static void reduce(struct ew_pull_shop *shop, struct ew_pull_cut *cut) {
  struct ew_desk desk = {0};
  struct ew_added added = {0};
  g_autoptr(GError) problem = NULL;
  if (!wait_for_stream(cut)) {
    say_none(shop, cut, ew_message_plain(&cannot_store));
    return;
  }
  struct ew_cut_place place;
  gboolean once;
  g_autoptr(ew_frames) frames = rows_of(shop, cut, &place, &once);
  if (!frames) {
    say_none(shop, cut, ew_message_plain(&rows_lost));
    return;
  }
  g_autofree char *name =
      ew_exact("live %" G_GINT64_FORMAT ", %.1f to %.1f s%s%s%s", cut->recording_id, cut->from_s,
               cut->to_s, cut->cut_short ? ", cut short (" : "",
               cut->cut_short ? cut->cut_short : "", cut->cut_short ? ")" : "");
  struct ew_add_options options = shop->options;
  options.name = name;
  g_autoptr(GPtrArray) sets = sets_of(shop, cut);
  options.sets = (const char *const *)(void *)sets->pdata;
  options.changed = shop->said.changed;
  struct ew_new_cut link = {cut->recording_id, cut->from_s, cut->to_s,
                            cut->near_json,    frames,      once ? &place : NULL};
  options.cut = &link;
  if (!ew_desk_open(&desk, shop->book, &problem) ||
      !ew_add_cut(&desk, name, &options, &added, &problem)) {
    say_none(shop, cut, of_error(problem));
    ew_desk_clear(&desk);
    return;
  }
  g_autofree char *used = added.pull_ids->len ? ew_said_write(&shop->said) : NULL;
  if (added.pull_ids->len) /* carried forward from there by the book */
    ew_said_clear(&shop->said);
  write_own(shop, cut);
  for (guint i = 0; i < added.pull_ids->len; i++)
    say_pull(shop, &desk, cut, g_array_index(added.pull_ids, gint64, i), used);
  if (added.pull_ids->len == 0)
    say_none(shop, cut,
             added.notes->len ? ew_message_copy(added.notes->pdata[added.notes->len - 1])
                              : ew_message_plain(&none_found));
  ew_added_clear(&added);
  ew_desk_clear(&desk);
}

static void finish(struct ew_pull_shop *shop, struct ew_pull_cut *cut) {
  reduce(shop, cut);
  ew_store_cut_ends(cut->store, cut->section);
}

static gpointer work(gpointer user) {
  struct ew_pull_shop *shop = user;
  for (;;) {
    struct ew_pull_cut *cut = g_async_queue_pop(shop->queue);
    gboolean last = cut->store == NULL;
    if (!last)
      finish(shop, cut);
    cut_free(cut);
    if (last)
      return NULL;
  }
}

#define SAID_KEY "said of the set-up"

/* From an earlier session; what this one begins with counts over it. */
static gboolean read_said(struct ew_pull_shop *shop, GError **error) {
  g_autofree char *text = NULL;
  if (!ew_setting_get(shop->book, SAID_KEY, &text, error))
    return FALSE;
  ew_said_read(text, &shop->said);
  for (guint i = 0; i < shop->sets->len; i++)
    ew_said_forget(&shop->said, shop->sets->pdata[i]);
  if (shop->options.changed)
    ew_said_changed(&shop->said, shop->options.changed);
  return TRUE;
}

static gboolean write_said(struct ew_pull_shop *shop, struct ew_said *said, GError **error) {
  g_autofree char *was = NULL;
  ew_said_move(said, &shop->said);
  g_autofree char *text = ew_said_write(&shop->said);
  if (!ew_setting_get(shop->book, SAID_KEY, &was, error))
    return FALSE;
  if (g_strcmp0(was ? was : "", text ? text : "") == 0)
    return TRUE;
  return ew_keep_setting(shop->book, SAID_KEY, text ? text : "", error);
}

char *ew_pull_shop_said(const struct ew_pull_shop *shop) {
  return ew_said_write(&shop->said);
}

static void shop_free(struct ew_pull_shop *shop) {
  g_async_queue_unref(shop->queue);
  ew_book_close(shop->book);
  g_ptr_array_unref(shop->sets);
  ew_said_clear(&shop->said);
  g_free(shop);
}

struct ew_pull_shop *ew_pull_shop_open(const char *book_path, const struct ew_add_options *options,
                                       ew_pull_says says, gpointer user, GError **error) {
  struct ew_book *book = ew_book_open(book_path, FALSE, error);
  if (!book || !ew_book_live(book, TRUE, error)) {
    ew_book_close(book);
    return NULL;
  }
  struct ew_pull_shop *shop = g_new0(struct ew_pull_shop, 1);
  shop->book = book;
  shop->options = *options;
  shop->queue = g_async_queue_new();
  shop->sets = g_ptr_array_new_with_free_func(g_free);
  for (int i = 0; options->sets && options->sets[i]; i++)
    g_ptr_array_add(shop->sets, g_strdup(options->sets[i]));
  if (!read_said(shop, error)) {
    shop_free(shop);
    return NULL;
  }
  shop->says = says;
  shop->user = user;
  shop->thread = g_thread_new("pulls", work, shop);
  return shop;
}

/* Pulls that come faster than they are reduced wait without their rows: the stream has them. */
void ew_pull_shop_push(struct ew_pull_shop *shop, struct ew_pull_cut *cut) {
  if (g_async_queue_length(shop->queue) >= WAITING_MOST)
    g_clear_pointer(&cut->rows, g_array_unref);
  ew_store_cut_begins(cut->store, cut->section);
  g_async_queue_push(shop->queue, cut);
}

gboolean ew_pull_shop_close(struct ew_pull_shop *shop, struct ew_said *said, GError **error) {
  g_async_queue_push(shop->queue, g_new0(struct ew_pull_cut, 1));
  g_thread_join(shop->thread);
  gboolean good = write_said(shop, said, error);
  shop_free(shop);
  return good;
}
