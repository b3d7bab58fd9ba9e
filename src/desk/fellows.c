/* For each pull of the days asked about: 1. is it looked at; 2. which side does it repeat, if any; 3. may it count? What repeats no side
 * is not spoken of. */
#include "desk/fellows.h"
#include "desk/alike.h"
#include "judge/comparable.h"
#include <math.h>
#include <string.h>

EW_MESSAGE(fellow_held, "desk.fellow-held", EW_NOTE, "held");
EW_MESSAGE(fellow_tripped, "desk.fellow-tripped", EW_NOTE, "an alarm tripped in it");
EW_MESSAGE(fellow_discarded, "desk.fellow-discarded", EW_NOTE, "discarded");
EW_MESSAGE(fellow_warm_up, "desk.fellow-warm-up", EW_NOTE,
           "the first of a run, and its temperatures are not known: a warm-up pull");
EW_MESSAGE(fellow_elsewhere, "desk.fellow-elsewhere", EW_NOTE,
           "of another day or run than those named");
EW_MESSAGE(fellow_left_out, "desk.fellow-left-out", EW_NOTE,
           "{pull} could stand for {side} and is left out: {reason}");
EW_MESSAGE(fellows_added, "desk.fellows-added", EW_NOTE,
           "counted for {side} beside what was named: {pulls}");

static const struct ew_loaded *nth(const GPtrArray *pulls, guint i) {
  return g_ptr_array_index(pulls, i);
}

static gboolean is_named(const GPtrArray *pulls, gint64 id) {
  for (guint i = 0; i < pulls->len; i++)
    if (nth(pulls, i)->id == id)
      return TRUE;
  return FALSE;
}

/* Of one engine of the book, each as kept. */
static gboolean can_be_asked(const GPtrArray *a, const GPtrArray *b) {
  gint64 engine = a->len ? nth(a, 0)->row.engine_id : 0;
  const GPtrArray *sides[] = {a, b};
  gboolean good = engine != 0 && b->len > 0;
  for (int s = 0; s < 2; s++)
    for (guint i = 0; i < sides[s]->len; i++) {
      const struct ew_loaded *l = nth(sides[s], i);
      good &= l->id && l->row.day && l->row.engine_id == engine && !l->differs;
    }
  return good;
}

static enum ew_level between_sides(const GPtrArray *a, const GPtrArray *b) {
  g_autoptr(GPtrArray) one = ew_desk_facts_of(a), other = ew_desk_facts_of(b);
  return ew_level_between((const struct ew_pull_facts *const *)(void *)one->pdata, one->len,
                          (const struct ew_pull_facts *const *)(void *)other->pdata, other->len);
}

/* What lay between two pulls, by their places in the book. */
static enum ew_level between_rows(const struct ew_pull_row *x, const struct ew_pull_row *y) {
  const struct ew_pull_row *rows[] = {x, y};
  struct ew_pull_facts facts[2];
  for (int i = 0; i < 2; i++)
    facts[i] = (struct ew_pull_facts){.engine_id = rows[i]->engine_id,
                                      .placed = rows[i]->day != NULL,
                                      .mounting = rows[i]->mounting,
                                      .run = rows[i]->run,
                                      .day = rows[i]->day};
  const struct ew_pull_facts *one = &facts[0], *other = &facts[1];
  return ew_level_between(&one, 1, &other, 1);
}

/* 1. */
static gboolean is_of(const struct ew_pull_row *row, const GPtrArray *side, gboolean of_run) {
  for (guint i = 0; i < side->len; i++) {
    const struct ew_pull_row *own = &nth(side, i)->row;
    if (row->day && own->invented == row->invented &&
        between_rows(own, row) <= (of_run ? EW_LEVEL_CONSECUTIVE : EW_LEVEL_RESTART))
      return TRUE;
  }
  return FALSE;
}

/* Does it repeat the side's first, whatever it began with? */
static gboolean repeats(const GPtrArray *side, const struct ew_loaded *l) {
  g_assert(side->len > 0);
  struct ew_pull_facts asked = l->facts;
  asked.held = NULL; /* that is said */
  return ew_is_alike(&nth(side, 0)->facts, &asked, EW_ALIKE_REPEAT, 1u << EW_FACT_START, NULL);
}

static gboolean begins_a_run(const GArray *rows, guint at) {
  g_assert(at < rows->len);
  const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, at);
  return at == 0 || between_rows(row - 1, row) > EW_LEVEL_CONSECUTIVE;
}

/* 3. NULL: it may. One that ran beside the other side's pulls alone would make the sides of one day, and with it pulls of another. */
static ew_message *why_not(const struct ew_pull_row *row, gboolean first, const GPtrArray *side,
                           gboolean of_run, const struct ew_loaded *l) {
  const struct ew_message_kind *plain = row->held        ? &fellow_held
                                        : row->discarded ? &fellow_discarded
                                        : row->tripped   ? &fellow_tripped
                                                         : NULL;
  const struct ew_conditions *c = &l->curve->conditions;
  if (plain)
    return ew_message_plain(plain);
  if (!is_of(row, side, of_run))
    return ew_message_plain(&fellow_elsewhere);
  if (first && isnan(c->oil_start_k) && isnan(c->coolant_start_k))
    return ew_message_plain(&fellow_warm_up);
  const struct ew_pull_facts *one = &nth(side, 0)->facts, *other = &l->facts;
  g_autoptr(ew_alike) alike = ew_comparable(&one, 1, &other, 1, EW_ALIKE_REPEAT, 0);
  if (alike->reasons->len)
    return ew_message_copy(alike->reasons->pdata[0]);
  for (guint i = 0; i < alike->widenings->len; i++)
    if (ew_alike_began_outside(alike->widenings->pdata[i]))
      return ew_message_copy(alike->widenings->pdata[i]);
  return NULL;
}

static void say_added(char side, const GPtrArray *added, GPtrArray *notes) {
  const char name[] = {side, 0};
  if (added->len)
    ew_messages_add(notes, ew_message(&fellows_added, ew_say_text("side", name),
                                      ew_say_messages("pulls", added)));
}

/* 2. */
static void take(GPtrArray *const sides[2], GPtrArray *const added[2], struct ew_loaded *l,
                 const struct ew_pull_row *row, gboolean first, gboolean of_run, GPtrArray *notes) {
  gboolean of_a = repeats(sides[0], l), of_b = repeats(sides[1], l);
  int s = of_b;
  if (of_a == of_b) /* of neither, or the sides are one set-up and nobody can say which */
    return;
  g_autoptr(ew_message) reason = why_not(row, first, sides[s], of_run, l);
  if (reason) {
    ew_messages_add(notes, ew_message(&fellow_left_out, ew_say_message("pull", l->numbered),
                                      ew_say_text("side", s ? "B" : "A"),
                                      ew_say_message("reason", reason)));
    return;
  }
  ew_messages_add(added[s], ew_message_copy(l->numbered));
  g_assert(!is_named(sides[s], l->id));
  g_ptr_array_add(sides[s], l);
}

GPtrArray *ew_fellows_new(void) {
  return g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
}

GPtrArray *ew_fellows_beside(const GPtrArray *named) {
  GPtrArray *list = g_ptr_array_sized_new(named->len + 1);
  for (guint i = 0; i < named->len; i++)
    g_ptr_array_add(list, named->pdata[i]);
  return list;
}

gboolean ew_desk_fellows(const struct ew_desk *desk, GPtrArray *a, GPtrArray *b, GPtrArray *own,
                         GPtrArray *notes, GError **error) {
  if (!desk->book || !can_be_asked(a, b))
    return TRUE;
  g_autoptr(GArray) rows = ew_pull_list(desk->book, nth(a, 0)->row.engine_id, error);
  g_autoptr(GPtrArray) for_a = ew_messages_new(), for_b = ew_messages_new();
  GPtrArray *const sides[2] = {a, b}, *const added[2] = {for_a, for_b};
  gboolean of_run = between_sides(a, b) == EW_LEVEL_CONSECUTIVE;
  for (guint i = 0; rows && i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (is_named(a, row->id) || is_named(b, row->id) || strcmp(row->purpose, "pull") != 0 ||
        !(is_of(row, a, of_run) || is_of(row, b, of_run)))
      continue;
    struct ew_loaded *l = ew_desk_load_id(desk, row->id, error);
    if (!l)
      return FALSE;
    g_ptr_array_add(own, l);
    take(sides, added, l, row, begins_a_run(rows, i), of_run, notes);
  }
  say_added('A', for_a, notes);
  say_added('B', for_b, notes);
  return rows != NULL;
}

static gboolean on_one_day(const GPtrArray *a, const GPtrArray *b) {
  const GPtrArray *sides[] = {a, b};
  gboolean one = can_be_asked(a, b);
  for (int s = 0; one && s < 2; s++)
    for (guint i = 0; one && i < sides[s]->len; i++)
      one = strcmp(nth(sides[s], i)->row.day, nth(a, 0)->row.day) == 0;
  return one;
}

void ew_desk_place_in_day(const struct ew_desk *desk, const GPtrArray *a, const GPtrArray *b,
                          GArray *all) {
  if (!desk->book || !on_one_day(a, b))
    return;
  g_autoptr(GArray) rows = ew_pull_list(desk->book, nth(a, 0)->row.engine_id, NULL);
  guint first = G_MAXUINT;
  for (guint i = 0; rows && i < rows->len; i++)
    for (guint k = 0; k < all->len; k++) {
      struct ew_compared_pull *pull = &g_array_index(all, struct ew_compared_pull, k);
      if (pull->side > 1 || pull->id != g_array_index(rows, struct ew_pull_row, i).id)
        continue;
      first = MIN(first, i);
      g_assert(first <= i);
      pull->position = i - first;
    }
}
