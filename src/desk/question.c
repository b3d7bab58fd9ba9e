/* Asking the judges: the pulls that were named become histories, sides and costs; the answer is counted as a look
 * and kept, when all of it is of the book. What was set aside, differs, tripped or is the same recording twice is
 * said with the answer. Sweeps: question_sweep.c; the limit: question_step.c. */
#include "desk/question_parts.h"
#include "desk/day_opinion.h"
#include "desk/fellows.h"
#include "judge/next.h"
#include "base/words.h"
#include "base/error.h"
#include <math.h>
#include <string.h>

static GArray *gather(const GPtrArray *a, const GPtrArray *b, const GPtrArray *history,
                      const GArray *group, const char *order) {
  GArray *all = g_array_new(FALSE, TRUE, sizeof(struct ew_compared_pull));
  gboolean ids = ew_question_of_book(a) && ew_question_of_book(b);
  const GPtrArray *sides[] = {a, b};
  for (int side = 0; side < 2; side++) {
    guint at = 0;
    for (guint i = 0; i < sides[side]->len; i++) {
      const struct ew_loaded *l = g_ptr_array_index(sides[side], i);
      double position = side + 2.0 * i; /* A B A B ... */
      if (order) {
        while (order[at] && g_ascii_toupper(order[at]) != (side ? 'B' : 'A'))
          at++;
        position = at++;
      } else if (ids)
        position = (double)l->id;
      struct ew_compared_pull pull = {l->curve, &l->setup, side, position, &l->facts, l->id};
      g_array_append_val(all, pull);
    }
  }
  for (guint i = 0; i < history->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(history, i);
    struct ew_compared_pull pull = {l->curve, &l->setup, 2 + g_array_index(group, int, i),
                                    i,        &l->facts, l->id};
    g_array_append_val(all, pull);
  }
  g_assert(all->len == a->len + b->len + history->len);
  return all;
}

/* Ids become 0, 1, 2... in the order of running, so that drift is a pull and not an id. */
static void rank_positions(GArray *all) {
  g_autofree double *rank = g_new(double, all->len + 1);
  for (guint i = 0; i < all->len; i++) {
    rank[i] = 0;
    for (guint j = 0; j < all->len; j++) {
      const struct ew_compared_pull *x = &g_array_index(all, struct ew_compared_pull, i);
      const struct ew_compared_pull *y = &g_array_index(all, struct ew_compared_pull, j);
      rank[i] += x->side < 2 && y->side < 2 && y->position < x->position;
    }
  }
  for (guint i = 0; i < all->len; i++)
    g_array_index(all, struct ew_compared_pull, i).position = rank[i];
}

/* The same question again: equal set-ups on both sides, whichever pulls. */
static char *pair_key(const GPtrArray *a, const GPtrArray *b) {
  g_assert(a->len > 0 && b->len > 0);
  const struct ew_loaded *x = g_ptr_array_index(a, 0), *y = g_ptr_array_index(b, 0);
  return ew_alike_question(&x->facts, &y->facts);
}

static enum ew_level level_of_sides(const GPtrArray *a, const GPtrArray *b) {
  g_autoptr(GPtrArray) one = ew_desk_facts_of(a), other = ew_desk_facts_of(b);
  return ew_level_between((const struct ew_pull_facts *const *)(void *)one->pdata, one->len,
                          (const struct ew_pull_facts *const *)(void *)other->pdata, other->len);
}

static void find_costs(const GArray *all, struct ew_compare_options *o) {
  g_autofree const struct ew_curve **curves = g_new(const struct ew_curve *, all->len + 1);
  for (guint i = 0; i < all->len; i++)
    curves[i] = g_array_index(all, struct ew_compared_pull, i).curve;
  struct ew_question_cost cost = ew_question_cost(curves, all->len);
  o->minutes_a_pull = cost.minutes;
  o->litres_a_pull = cost.litres;
}

static gboolean check_order(const char *order, guint a, guint b, GError **error) {
  guint count[2] = {0, 0};
  for (const char *c = order; c && *c; c++) {
    char side = g_ascii_toupper(*c);
    if (side != 'A' && side != 'B')
      return ew_refuse(error, "order '%s': write the sides in the order they ran, for example ABAB",
                       order);
    count[side == 'B']++;
  }
  return !order || (count[0] == a && count[1] == b) ||
         ew_refuse(error, "order '%s' has %u of A and %u of B, and %u and %u pulls are given",
                   order, count[0], count[1], a, b);
}

/* Three like pulls in a row that rise and spread more than the cell's own scatter explains (range of
 * three over 3.31 s, the 95 % point of the studentised range) say that the engine still changes. */
static gboolean still_breaking_in(const struct ew_desk *desk, const GPtrArray *a,
                                  struct ew_spread repeat) {
  const struct ew_loaded *side = g_ptr_array_index(a, 0);
  g_autoptr(GArray) rows = ew_pull_list(desk->book, side->row.engine_id, NULL);
  double last[3] = {NAN, NAN, NAN};
  for (guint i = 0; repeat.freedom >= 3 && i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    if (!ew_pull_counts(row) || row->id > side->id + 2)
      continue;
    struct ew_loaded *l = ew_desk_load_id(desk, row->id, NULL);
    if (l && ew_is_alike(&side->facts, &l->facts, EW_ALIKE_REPEAT, 0, NULL)) {
      last[0] = last[1];
      last[1] = last[2];
      last[2] = log(l->curve->band_mean_n_m);
    } else
      last[0] = last[1] = last[2] = NAN; /* not in a row */
    ew_loaded_free(l);
    if (last[0] < last[1] && last[1] < last[2] && last[2] - last[0] > 3.31 * repeat.sd)
      return TRUE;
  }
  return FALSE;
}

static gboolean are_apart(const struct ew_desk *desk, const GPtrArray *a, const GPtrArray *b,
                          GError **error) {
  for (guint i = 0; i < a->len; i++)
    for (guint j = 0; j < b->len; j++) {
      struct ew_loaded *x = g_ptr_array_index(a, i), *y = g_ptr_array_index(b, j);
      if (strcmp(ew_desk_evidence(desk, x), ew_desk_evidence(desk, y)) == 0)
        return ew_refuse(error,
                         "%s and %s are the same recording: a side cannot be compared with itself",
                         x->name, y->name);
    }
  return TRUE;
}

static void write_comparison(const void *answer, struct ew_json *json) {
  ew_comparison_write_json(answer, json);
}

static gboolean keep_comparison(const struct ew_desk *desk, const GPtrArray *a, const GPtrArray *b,
                                const struct ew_comparison *c, const char *pair,
                                const char *learned, const struct ew_question_options *q,
                                GError **error) {
  g_assert(pair && desk->book);
  g_autoptr(ew_message) says = ew_comparison_says(c);
  struct ew_question_said said = ew_question_nothing_said();
  said.margin = q->margin;
  said.band_low_rpm = q->band_low_rpm;
  said.band_high_rpm = q->band_high_rpm;
  said.level = q->level;
  said.despite = q->despite;
  return ew_question_keep(desk,
                          &(struct ew_question_answer){.question = "compare",
                                                       .pair = pair,
                                                       .a = a,
                                                       .b = b,
                                                       .learned = learned,
                                                       .said = said,
                                                       .says = says,
                                                       .write = write_comparison,
                                                       .answer = c},
                          error);
}

struct ew_comparison *ew_ask_compare(const struct ew_desk *desk, const GPtrArray *all_a,
                                     const GPtrArray *all_b, const GPtrArray *all_history,
                                     const GArray *all_groups, const struct ew_question_options *q,
                                     GError **error) {
  g_autoptr(GHashTable) met = g_hash_table_new(g_str_hash, g_str_equal);
  g_autoptr(GPtrArray) same = ew_messages_new();
  g_autoptr(GArray) group = g_array_new(FALSE, FALSE, sizeof(int));
  g_autoptr(GPtrArray) notes = ew_messages_new(), fellows = ew_fellows_new();
  g_autoptr(GPtrArray) whole_a = ew_fellows_beside(all_a);
  g_autoptr(GPtrArray) whole_b = ew_fellows_beside(all_b);
  if (!check_order(q->order, all_a->len, all_b->len, error) ||
      (!q->named_only && !ew_desk_fellows(desk, whole_a, whole_b, fellows, notes, error)) ||
      !are_apart(desk, whole_a, whole_b, error))
    return NULL;
  g_autoptr(GPtrArray) a = ew_question_once(desk, whole_a, met, same),
                       b = ew_question_once(desk, whole_b, met, same);
  g_autoptr(GPtrArray) history =
      ew_question_history_once(desk, all_history, all_groups, met, group, same);
  if (!check_order(q->order, a->len, b->len, error))
    return NULL;
  g_autoptr(GArray) all = gather(a, b, history, group, q->order);
  rank_positions(all);
  ew_desk_place_in_day(desk, a, b, all);
  gboolean book = desk->book && ew_question_of_book(a) && ew_question_of_book(b);
  struct ew_compare_options o = {.margin = isnan(q->margin) ? 0.01 : q->margin,
                                 .level = q->level >= 0 ? (enum ew_level)q->level
                                          : book        ? level_of_sides(a, b)
                                                        : EW_LEVEL_CONSECUTIVE,
                                 .band_low_rpm = q->band_low_rpm,
                                 .band_high_rpm = q->band_high_rpm,
                                 .drift_mean = NAN,
                                 .drift_sd = NAN,
                                 .despite = q->despite,
                                 .use = q->use};
  g_assert(o.level < EW_LEVELS_COUNT && group->len == history->len);
  find_costs(all, &o);
  struct ew_learned learned;
  g_autofree char *pair = book ? pair_key(a, b) : NULL;
  g_autofree char *pulls = ew_question_asked(a, b), *learned_from = NULL;
  if (book) {
    g_autoptr(GPtrArray) own = g_ptr_array_new();
    g_ptr_array_extend(own, (GPtrArray *)a, NULL, NULL);
    g_ptr_array_extend(own, (GPtrArray *)b, NULL, NULL);
    learned = ew_desk_history_of(desk, 0, own, &learned_from);
    if (history->len == 0) {
      o.history = &learned.guarded[o.level];
      o.effects = &learned.effects;
    }
    o.consecutive = &(o.effects ? learned.guarded : learned.levels)[EW_LEVEL_CONSECUTIVE];
    o.drift_mean = learned.drift_mean;
    o.drift_sd = learned.drift_sd;
    if (!ew_verdict_looks(desk->book, pair, pulls, &o.looks_before, error))
      return NULL;
    o.looks_counted = TRUE;
    o.breaking_in = still_breaking_in(desk, a, learned.levels[EW_LEVEL_CONSECUTIVE]);
  }
  g_autoptr(ew_message) look_a = ew_question_look_first(desk, a),
                        look_b = ew_question_look_first(desk, b);
  o.look_first = look_b ? look_b : look_a;
  struct ew_comparison *c =
      ew_compare((const struct ew_compared_pull *)(void *)all->data, all->len, &o, error);
  if (c) {
    ew_messages_copy(same, c->warnings);
    ew_messages_copy(notes, c->notes);
    ew_question_set_aside(desk, a, c->warnings);
    ew_question_set_aside(desk, b, c->warnings);
    if (book && !ew_question_differs(a) && !ew_question_differs(b))
      c->day = ew_desk_day_opinion(desk, a, b, c);
    c->next = ew_next(c, q->rested);
  }
  if (!c || !book || !q->keep || ew_question_differs(a) || ew_question_differs(b))
    return c;
  if (keep_comparison(desk, a, b, c, pair, learned_from, q, error))
    return c;
  ew_comparison_free(c);
  return NULL;
}

EW_MESSAGE(answer_compare, "desk.answer-compare", EW_NOTE, "compared, {pulls}: {says}");
EW_MESSAGE(answer_spark, "desk.answer-spark", EW_NOTE, "spark sweep, {pulls}: {says}");
EW_MESSAGE(answer_mixture, "desk.answer-mixture", EW_NOTE, "mixture sweep, {pulls}: {says}");
EW_MESSAGE(answer_step_up, "desk.answer-step-up", EW_NOTE, "step-up, {pulls}: {says}");

EW_MESSAGE(on_earlier, "desk.answer-on-earlier-reading", EW_CAUTION,
           "{answer} [on an earlier reading: a pull of it was amended since]");

ew_message *ew_answer_message(const struct ew_verdict_row *row) {
  g_autoptr(ew_message) pulls = ew_verdict_asked(row), says = ew_verdict_says(row);
  const struct ew_message_kind *kind = strcmp(row->question, "compare") == 0       ? &answer_compare
                                       : strcmp(row->question, "spark sweep") == 0 ? &answer_spark
                                       : strcmp(row->question, "step-up") == 0     ? &answer_step_up
                                                                               : &answer_mixture;
  g_autoptr(ew_message) answer =
      ew_message(kind, ew_say_message("pulls", pulls), ew_say_message("says", says));
  return row->earlier ? ew_message(&on_earlier, ew_say_message("answer", answer))
                      : g_steal_pointer(&answer);
}

char *ew_answer_line(const struct ew_verdict_row *row, enum ew_unit_system units) {
  g_autoptr(ew_message) line = ew_answer_message(row);
  return ew_message_text(line, units);
}

struct ew_budget ew_ask_budget(const struct ew_desk *desk, const struct ew_loaded *pull,
                               double speed) {
  const struct ew_curve *c = pull->curve;
  struct ew_learned learned = {0};
  if (desk->book && pull->id)
    learned = ew_desk_history(desk, 0, NULL);
  return ew_budget(&desk->bench, pull->calibration, c, ew_curve_at(c, c->torque_n_m, speed),
                   ew_curve_at(c, c->inertia_n_m, speed), ew_curve_at(c, c->torque_se_n_m, speed),
                   learned.levels[EW_LEVEL_CONSECUTIVE], EW_HOURS_SINCE_ZERO);
}
