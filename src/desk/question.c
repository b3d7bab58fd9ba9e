/* Asking the judges: the pulls that were named become histories, sides and costs; the answer is counted as a look
 * and kept, when all of it is of the book. What was set aside, differs, tripped or is the same recording twice is
 * said with the answer. */
#include "desk/question.h"
#include "base/as_pointer.h"
#include "desk/day_opinion.h"
#include "book/stream.h"
#include "base/words.h"
#include "base/error.h"
#include "base/statistics.h"
#include "book/keep.h"
#include "desk/trip.h"
#include <math.h>
#include <string.h>

#define SAME_LIMITS_MOST 8

EW_MESSAGE(more_trips, "desk.more-trips", EW_DANGER, "{trip}; and {others} more open");
EW_MESSAGE(not_kept, "desk.answer-not-kept", EW_CAUTION,
           "{pull} is not as kept in the book: the answer is not kept either");
EW_MESSAGE(earlier_curve, "desk.earlier-curve", EW_CAUTION,
           "{pull} was computed by an earlier version of the program: run 'book renew', then ask "
           "again");
EW_MESSAGE(used_discarded, "desk.used-discarded", EW_CAUTION,
           "{pull} was discarded ({reason}); it is used here because it was named");
EW_MESSAGE(used_tripped, "desk.used-tripped", EW_CAUTION,
           "{pull} proves nothing: {trip}; it is used here because it was named");
EW_MESSAGE(used_purpose, "desk.used-purpose", EW_CAUTION,
           "{pull} was run for {purpose} and is not a pull to judge by; it is used here because it "
           "was named");
EW_MESSAGE(named_twice, "desk.named-twice", EW_CAUTION, "{pull} was named twice: it counts once");
EW_MESSAGE(same_recording, "desk.same-recording", EW_CAUTION,
           "{pull} is the same recording as {other}: it counts once");
EW_MESSAGE(history_same, "desk.history-same-recording", EW_CAUTION,
           "{pull} of the history is the same recording as {other}: it counts once");
EW_MESSAGE(history_short, "desk.history-short", EW_CAUTION,
           "{pull} of the history does not reach over {from} to {to} and is left out");
EW_MESSAGE(stopped_before, "desk.stopped-before", EW_DANGER,
           "{pull} to {speed} stopped for: {reason}; no sound pull to that limit since");
EW_MESSAGE(sweep_on_purpose, "desk.sweep-on-purpose", EW_CAUTION,
           "asked on purpose although {differences}");
EW_MESSAGE(sweep_best, "desk.sweep-best", EW_NOTE, "best at {best} ({low} to {high}); {reason}");
EW_MESSAGE(sweep_chosen, "desk.sweep-chosen", EW_NOTE,
           "least setting within the margin: {chosen} (best {best}, {low} to {high}); {reason}");

/* A pull as an argument: its number in the book, or its file. */
#define SAY_PULL(as, l) ((l)->id ? ew_say_message(as, (l)->numbered) : ew_say_text(as, (l)->name))

static gint64 engine_of(const GPtrArray *pulls) {
  const struct ew_loaded *first = pulls->len ? g_ptr_array_index(pulls, 0) : NULL;
  return first ? first->row.engine_id : 0;
}

static gboolean from_book(const GPtrArray *pulls) {
  for (guint i = 0; i < pulls->len; i++)
    if (((const struct ew_loaded *)g_ptr_array_index(pulls, i))->id == 0)
      return FALSE;
  return pulls->len > 0;
}

static GArray *gather(const GPtrArray *a, const GPtrArray *b, const GPtrArray *history,
                      const GArray *group, const char *order) {
  GArray *all = g_array_new(FALSE, TRUE, sizeof(struct ew_compared_pull));
  gboolean ids = from_book(a) && from_book(b);
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
      struct ew_compared_pull pull = {l->curve, &l->setup, side, position, &l->facts};
      g_array_append_val(all, pull);
    }
  }
  for (guint i = 0; i < history->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(history, i);
    struct ew_compared_pull pull = {l->curve, &l->setup, 2 + g_array_index(group, int, i), i,
                                    &l->facts};
    g_array_append_val(all, pull);
  }
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

static void add_ids(GArray *ids, const GPtrArray *side) {
  for (guint i = 0; i < side->len; i++)
    g_array_append_val(ids, ((struct ew_loaded *)g_ptr_array_index(side, i))->id);
}

/* Which pulls were asked about; NULL: not all of them are in the book. */
static char *asked_key(const GPtrArray *a, const GPtrArray *b) {
  g_autoptr(GArray) one = g_array_new(FALSE, FALSE, sizeof(gint64));
  g_autoptr(GArray) other = g_array_new(FALSE, FALSE, sizeof(gint64));
  add_ids(one, a);
  if (b)
    add_ids(other, b);
  return ew_asked_write(one, other);
}

/* The same question again: equal set-ups on both sides, whichever pulls. */
static char *pair_key(const GPtrArray *a, const GPtrArray *b) {
  const struct ew_loaded *x = g_ptr_array_index(a, 0), *y = g_ptr_array_index(b, 0);
  return ew_alike_question(&x->facts, &y->facts);
}

static enum ew_level level_of_sides(const GPtrArray *a, const GPtrArray *b) {
  g_autoptr(GPtrArray) one = ew_desk_facts_of(a), other = ew_desk_facts_of(b);
  return ew_level_between((const struct ew_pull_facts *const *)(void *)one->pdata, one->len,
                          (const struct ew_pull_facts *const *)(void *)other->pdata, other->len);
}

/* Minutes a pull and litres a pull, from the pulls themselves. */
static void find_costs(const GArray *all, struct ew_compare_options *o) {
  double rest[64], litres = 0;
  gsize count = 0, fuelled = 0;
  for (guint i = 0; i < all->len; i++) {
    const struct ew_compared_pull *pull = &g_array_index(all, struct ew_compared_pull, i);
    if (count < 64 && !isnan(pull->curve->conditions.rest_s))
      rest[count++] = pull->curve->conditions.rest_s;
    const struct ew_curve_column *fuel = ew_curve_column(pull->curve, "fuel_flow", 0);
    if (fuel) {
      gsize absent; /* points without fuel flow: the mean of the others is near enough for a cost */
      double flow = ew_mean(fuel->values, pull->curve->points, &absent);
      if (isnan(flow))
        continue;
      litres += flow * (pull->curve->end_s - pull->curve->start_s) / 0.745;
      fuelled++;
    }
  }
  o->minutes_a_pull = count ? ew_median(rest, count, EW_NONE_ABSENT) / 60 + 0.5 : (double)NAN;
  o->litres_a_pull = fuelled ? litres / (double)fuelled : (double)NAN;
}

static gboolean keep_answer(const struct ew_desk *desk, gint64 engine_id, const char *question,
                            const char *pair, const char *pulls, const ew_message *says,
                            GString *json, GError **error) {
  g_autofree char *line = ew_message_write(says);
  struct ew_verdict_row row = {.engine_id = engine_id,
                               .question = ew_as_pointer(question),
                               .pair = ew_as_pointer(pair),
                               .pulls = ew_as_pointer(pulls),
                               .says = line,
                               .json = json->str};
  return ew_keep_answer(desk->book, &row, error);
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

/* What tripped and was not looked into yet, of the engine these pulls were made with; NULL: nothing. */
static ew_message *look_first(const struct ew_desk *desk, const GPtrArray *pulls) {
  if (!desk->book || !from_book(pulls))
    return NULL;
  g_autoptr(GPtrArray) open = ew_trips_open(desk->book, engine_of(pulls));
  if (open->len == 0)
    return NULL;
  const ew_message *last = open->pdata[open->len - 1];
  return open->len == 1 ? ew_message_copy(last)
                        : ew_message(&more_trips, ew_say_message("trip", last),
                                     ew_say_count("others", open->len - 1));
}

/* An answer about something that the book does not hold is not kept there. */
static gboolean any_differs(const GPtrArray *pulls) {
  for (guint i = 0; i < pulls->len; i++)
    if (((const struct ew_loaded *)g_ptr_array_index(pulls, i))->differs)
      return TRUE;
  return FALSE;
}

EW_MESSAGE(used_held, "desk.used-held", EW_DANGER,
           "{pull} is held ({finding}): answer that first; until then nothing here is proved");

/* What was set aside is used when it is named, and said to be. */
static void mention_set_aside(const struct ew_desk *desk, const GPtrArray *pulls,
                              GPtrArray *warnings) {
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    struct ew_argument pull = SAY_PULL("pull", l);
    if (l->differs)
      ew_messages_add(warnings, ew_message(&not_kept, pull));
    if (l->earlier)
      ew_messages_add(warnings, ew_message(&earlier_curve, pull));
    g_autoptr(ew_message) trip = l->row.tripped ? ew_trips_of_pull(desk->book, l->id) : NULL;
    g_autoptr(ew_message) finding =
        l->row.held ? ew_message_read(l->row.held, strlen(l->row.held), NULL) : NULL;
    if (finding)
      ew_messages_add(warnings, ew_message(&used_held, pull, ew_say_message("finding", finding)));
    if (l->row.discarded)
      ew_messages_add(warnings,
                      ew_message(&used_discarded, pull, ew_say_text("reason", l->row.discarded)));
    else if (l->row.tripped)
      ew_messages_add(warnings, ew_message(&used_tripped, pull,
                                           trip ? ew_say_message("trip", trip)
                                                : ew_say_text("trip", l->row.tripped)));
    else if (l->row.purpose && strcmp(l->row.purpose, "pull") != 0)
      ew_messages_add(warnings,
                      ew_message(&used_purpose, pull, ew_say_text("purpose", l->row.purpose)));
  }
}

/* The pulls without those that are the same recording as one before: the same evidence counts once. `met`: what
 * was met so far. The array borrows. */
static GPtrArray *each_once(const struct ew_desk *desk, const GPtrArray *pulls, GHashTable *met,
                            GPtrArray *warnings) {
  GPtrArray *once = g_ptr_array_new();
  for (guint i = 0; i < pulls->len; i++) {
    struct ew_loaded *l = g_ptr_array_index(pulls, i);
    const struct ew_loaded *before = g_hash_table_lookup(met, ew_desk_evidence(desk, l));
    if (!before) {
      g_hash_table_insert(met, l->evidence, l);
      g_ptr_array_add(once, l);
    } else
      ew_messages_add(warnings, before->id == l->id && l->id
                                    ? ew_message(&named_twice, SAY_PULL("pull", l))
                                    : ew_message(&same_recording, SAY_PULL("pull", l),
                                                 SAY_PULL("other", before)));
  }
  return once;
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

/* History without what stands on a side, and each recording once; `group` follows. */
static GPtrArray *history_once(const struct ew_desk *desk, const GPtrArray *history,
                               const GArray *group, GHashTable *met, GArray *groups,
                               GPtrArray *warnings) {
  GPtrArray *once = g_ptr_array_new();
  for (guint i = 0; history && i < history->len; i++) {
    struct ew_loaded *l = g_ptr_array_index(history, i);
    const struct ew_loaded *before = g_hash_table_lookup(met, ew_desk_evidence(desk, l));
    if (before) {
      ew_messages_add(warnings,
                      ew_message(&history_same, SAY_PULL("pull", l), SAY_PULL("other", before)));
      continue;
    }
    g_hash_table_insert(met, l->evidence, l);
    g_ptr_array_add(once, l);
    g_array_append_val(groups, g_array_index(group, int, i));
  }
  return once;
}

struct ew_comparison *ew_ask_compare(const struct ew_desk *desk, const GPtrArray *all_a,
                                     const GPtrArray *all_b, const GPtrArray *all_history,
                                     const GArray *all_groups, const struct ew_question_options *q,
                                     GError **error) {
  g_autoptr(GHashTable) met = g_hash_table_new(g_str_hash, g_str_equal);
  g_autoptr(GPtrArray) same = ew_messages_new();
  g_autoptr(GArray) group = g_array_new(FALSE, FALSE, sizeof(int));
  if (!check_order(q->order, all_a->len, all_b->len, error) ||
      !are_apart(desk, all_a, all_b, error))
    return NULL;
  g_autoptr(GPtrArray) a = each_once(desk, all_a, met, same), b = each_once(desk, all_b, met, same);
  g_autoptr(GPtrArray) history = history_once(desk, all_history, all_groups, met, group, same);
  if (!check_order(q->order, a->len, b->len, error))
    return NULL;
  g_autoptr(GArray) all = gather(a, b, history, group, q->order);
  rank_positions(all);
  gboolean book = desk->book && from_book(a) && from_book(b);
  struct ew_compare_options o = {.margin = isnan(q->margin) ? 0.01 : q->margin,
                                 .level = q->level >= 0 ? (enum ew_level)q->level
                                          : book        ? level_of_sides(a, b)
                                                        : EW_LEVEL_CONSECUTIVE,
                                 .band_low_rpm = q->band_low_rpm,
                                 .band_high_rpm = q->band_high_rpm,
                                 .drift_mean = NAN,
                                 .drift_sd = NAN,
                                 .despite = q->despite};
  find_costs(all, &o);
  struct ew_learned learned;
  g_autofree char *pair = book ? pair_key(a, b) : NULL;
  g_autofree char *pulls = asked_key(a, b);
  if (book) {
    g_autoptr(GPtrArray) own = g_ptr_array_new();
    g_ptr_array_extend(own, (GPtrArray *)a, NULL, NULL);
    g_ptr_array_extend(own, (GPtrArray *)b, NULL, NULL);
    learned = ew_desk_history(desk, 0, own);
    if (history->len == 0)
      o.history = &learned.levels[o.level];
    o.consecutive = &learned.levels[EW_LEVEL_CONSECUTIVE];
    o.drift_mean = learned.drift_mean;
    o.drift_sd = learned.drift_sd;
    if (!ew_verdict_looks(desk->book, pair, pulls, &o.looks_before, error))
      return NULL;
    o.looks_counted = TRUE;
    o.breaking_in = still_breaking_in(desk, a, learned.levels[EW_LEVEL_CONSECUTIVE]);
  }
  g_autoptr(ew_message) look_a = look_first(desk, a), look_b = look_first(desk, b);
  o.look_first = look_b ? look_b : look_a;
  struct ew_comparison *c =
      ew_compare((const struct ew_compared_pull *)(void *)all->data, all->len, &o, error);
  if (c) {
    ew_messages_copy(same, c->warnings);
    mention_set_aside(desk, a, c->warnings);
    mention_set_aside(desk, b, c->warnings);
    if (book && !any_differs(a) && !any_differs(b))
      c->day = ew_desk_day_opinion(desk, a, b, c);
  }
  if (!c || !book || !q->keep || any_differs(a) || any_differs(b))
    return c;
  g_autoptr(ew_message) says = ew_comparison_says(c);
  struct ew_json json = {.text = g_string_new(NULL), .facts = TRUE};
  ew_json_open(&json, NULL);
  ew_comparison_write_json(c, &json);
  ew_json_close(&json);
  gboolean kept = keep_answer(desk, engine_of(a), "compare", pair, pulls, says, json.text, error);
  g_string_free(json.text, TRUE);
  if (kept)
    return c;
  ew_comparison_free(c);
  return NULL;
}

static double setting_of(const struct ew_loaded *l, enum ew_sweep_setting setting, double low,
                         double high) {
  if (setting == EW_SWEEP_SPARK) {
    if (!isnan(l->setup.spark_deg))
      return l->setup.spark_deg;
    const struct ew_curve_column *spark = ew_curve_column(l->curve, "spark", 0);
    return spark ? ew_curve_at(l->curve, spark->values, (low + high) / 2) : (double)NAN;
  }
  const struct ew_curve_column *lambda = ew_curve_column(l->curve, "lambda", 0);
  if (!lambda)
    return l->setup.lambda_target;
  double sum = 0;
  for (int i = 0; i <= 20; i++)
    sum += ew_curve_at(l->curve, lambda->values, low + (high - low) * i / 20) / 21;
  return sum;
}

/* Spread of one pull: the book's, the history groups', or that of repeated settings among the pulls. */
static struct ew_spread sweep_spread(const struct ew_desk *desk, const GPtrArray *pulls,
                                     const struct ew_sweep_pull *rows, const GPtrArray *history,
                                     const GArray *group, double low, double high,
                                     GPtrArray *warnings) {
  if (history->len) {
    g_autofree double *value = g_new(double, history->len);
    for (guint i = 0; i < history->len; i++) {
      const struct ew_loaded *l = g_ptr_array_index(history, i);
      value[i] = ew_curve_band_log(l->curve, low, high);
      if (isnan(value[i]))
        ew_messages_add(warnings,
                        ew_message(&history_short, SAY_PULL("pull", l),
                                   ew_say_quantity("from", EW_KIND_ROTATIONAL_SPEED, low, 0),
                                   ew_say_quantity("to", EW_KIND_ROTATIONAL_SPEED, high, 0)));
    }
    return ew_pooled_spread(value, (const int *)(void *)group->data, NULL, history->len, FALSE);
  }
  if (desk->book && from_book(pulls))
    return ew_desk_history(desk, 0, NULL).levels[EW_LEVEL_CONSECUTIVE];
  g_autofree double *value = g_new(double, pulls->len);
  g_autofree int *same = g_new(int, pulls->len);
  for (guint i = 0; i < pulls->len; i++) {
    value[i] = rows[i].log_mean;
    same[i] = (int)lround(rows[i].setting * 1000);
  }
  return ew_pooled_spread(value, same, NULL, pulls->len, FALSE);
}

/* A sweep is of one thing: what differs beside the setting is asked on purpose, or refused. */
static gboolean sweep_is_alike(const GPtrArray *pulls, enum ew_sweep_setting setting, guint allowed,
                               GPtrArray *warnings, double *added, GError **error) {
  g_autoptr(GPtrArray) despite = ew_messages_new();
  enum ew_alike_use use = setting == EW_SWEEP_SPARK ? EW_ALIKE_SPARK_SWEEP : EW_ALIKE_MIXTURE_SWEEP;
  if (!ew_desk_all_alike(pulls, use, allowed, despite, added, warnings, error))
    return FALSE;
  if (despite->len)
    ew_messages_add(warnings,
                    ew_message(&sweep_on_purpose, ew_say_messages("differences", despite)));
  return TRUE;
}

struct ew_sweep *ew_ask_sweep(const struct ew_desk *desk, const GPtrArray *all_pulls,
                              enum ew_sweep_setting setting, double margin, double reserve,
                              const GPtrArray *all_history, const GArray *all_groups, guint despite,
                              gboolean keep, GError **error) {
  g_autoptr(GHashTable) met = g_hash_table_new(g_str_hash, g_str_equal);
  g_autoptr(GPtrArray) same = ew_messages_new();
  g_autoptr(GArray) group = g_array_new(FALSE, FALSE, sizeof(int));
  g_autoptr(GPtrArray) pulls = each_once(desk, all_pulls, met, same);
  g_autoptr(GPtrArray) history = history_once(desk, all_history, all_groups, met, group, same);
  double added = 0;
  if (!sweep_is_alike(pulls, setting, despite, same, &added, error))
    return NULL;
  double low = 0, high = INFINITY;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    low = fmax(low, l->curve->band_low_rpm);
    high = fmin(high, l->curve->band_high_rpm);
  }
  g_autofree struct ew_sweep_pull *rows = g_new0(struct ew_sweep_pull, pulls->len + 1);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    rows[i] = (struct ew_sweep_pull){.setting = setting_of(l, setting, low, high),
                                     .log_mean = ew_curve_band_log(l->curve, low, high),
                                     .position = i,
                                     .knock = l->curve->knock_count,
                                     .seen = l->setup.seen};
    if (isnan(rows[i].setting) || isnan(rows[i].log_mean)) {
      if (isnan(rows[i].setting))
        ew_refuse_with(error, EW_REMEDY_STATE_SETTING, "%s: its setting is not known", l->name);
      else
        ew_refuse(error, "%s: it does not reach the common speed band", l->name);
      return NULL;
    }
  }
  struct ew_spread spread = sweep_spread(desk, pulls, rows, history, group, low, high, same);
  struct ew_sweep_options o = {.setting = setting,
                               .margin = isnan(margin) ? 0.005 : margin,
                               .reserve = reserve,
                               .sd = sqrt(spread.sd * spread.sd + added),
                               .freedom = spread.freedom};
  o.fit_drift = pulls->len >= 5 &&
                fabs(rows[0].setting - rows[pulls->len - 1].setting) < ew_sweep_apart(setting);
  g_autoptr(ew_message) look = look_first(desk, pulls);
  o.look_first = look;
  struct ew_sweep *sweep = ew_sweep(rows, pulls->len, &o, error);
  if (sweep) {
    ew_messages_copy(same, sweep->warnings);
    mention_set_aside(desk, pulls, sweep->warnings);
  }
  if (!sweep || !keep || !desk->book || !from_book(pulls) || any_differs(pulls))
    return sweep;
  struct ew_json json = {.text = g_string_new(NULL), .facts = TRUE};
  ew_json_open(&json, NULL);
  ew_sweep_write_json(sweep, &json);
  ew_json_close(&json);
  g_autofree char *names = asked_key(pulls, NULL);
  const char *what = setting == EW_SWEEP_SPARK ? "spark sweep" : "mixture sweep";
  int decimals = setting == EW_SWEEP_SPARK ? 1 : 3;
  struct ew_argument best = ew_say_figure("best", sweep->best, decimals),
                     least = ew_say_figure("low", sweep->best_low, decimals),
                     most = ew_say_figure("high", sweep->best_high, decimals),
                     reason = ew_say_message("reason", sweep->reason);
  g_autoptr(ew_message) says =
      isnan(sweep->chosen)
          ? ew_message(&sweep_best, best, least, most, reason)
          : ew_message(&sweep_chosen, ew_say_figure("chosen", sweep->chosen, decimals), best, least,
                       most, reason);
  gboolean kept = keep_answer(desk, engine_of(pulls), what, what, names, says, json.text, error);
  g_string_free(json.text, TRUE);
  if (kept)
    return sweep;
  ew_sweep_free(sweep);
  return NULL;
}

/* Valid pulls at the limit of this one. */
static int count_here(const struct ew_desk *desk, const struct ew_loaded *pull) {
  g_autoptr(GArray) rows = ew_pull_list(desk->book, pull->row.engine_id, NULL);
  int count = 0;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    count += ew_pull_counts(row) && row->id <= pull->id &&
             ew_is_same_limit(row->top_rpm, pull->curve->high_rpm);
  }
  return count;
}

/* The trends of another pull say something of this one when both are of one engine, build and oil. */
static gboolean trend_is_alike(const struct ew_loaded *pull, const struct ew_loaded *before,
                               GError **error) {
  g_autoptr(GPtrArray) both = g_ptr_array_new();
  g_ptr_array_add(both, (gpointer)before);
  g_ptr_array_add(both, ew_as_pointer(pull));
  return !before || ew_desk_all_alike(both, EW_ALIKE_STEP, 0, NULL, NULL, NULL, error);
}

/* What the last pull at each higher limit before this one stopped for: going down does not make it undone, a later pull at that limit
 * does. Each of them is asked by itself: O(pulls) rows, one curve a limit. */
static GPtrArray *stopped_higher(const struct ew_desk *desk, const struct ew_loaded *pull) {
  GPtrArray *says = ew_messages_new();
  g_autoptr(GArray) rows = ew_pull_list(desk->book, pull->row.engine_id, NULL);
  double seen[SAME_LIMITS_MOST];
  int limits = 0;
  for (guint i = rows->len; i-- > 0 && limits < SAME_LIMITS_MOST;) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    gboolean known = FALSE;
    for (int k = 0; k < limits; k++)
      known |= ew_is_same_limit(seen[k], row->top_rpm);
    if (known || row->id >= pull->id || !ew_pull_counts(row) ||
        !ew_is_lower_limit(pull->curve->high_rpm, row->top_rpm) ||
        row->invented != pull->row.invented)
      continue;
    seen[limits++] = row->top_rpm;
    struct ew_loaded *other = ew_desk_load_id(desk, row->id, NULL);
    struct ew_step_up *step =
        other ? ew_step_up(&(struct ew_step_up_input){.curve = other->curve,
                                                      .engine = &other->engine,
                                                      .bench = &desk->bench,
                                                      .setup = &other->setup,
                                                      .valid_pulls_here = 1,
                                                      .lambda_target = other->setup.lambda_target,
                                                      .next_rpm = NAN})
              : NULL;
    if (step && step->answer == EW_STEP_STOP)
      ew_messages_add(
          says,
          ew_message(
              &stopped_before, SAY_PULL("pull", other),
              ew_say_quantity("speed", EW_KIND_ROTATIONAL_SPEED, row->top_rpm, 0),
              ew_say_message("reason", g_array_index(step->rows, struct ew_step_up_row, 0).found)));
    ew_step_up_free(step);
    ew_loaded_free(other);
  }
  return says;
}

struct ew_step_up *ew_ask_step_up(const struct ew_desk *desk, const struct ew_loaded *pull,
                                  const struct ew_loaded *before, double next_rpm, gboolean keep,
                                  GError **error) {
  struct ew_loaded *found = NULL;
  int here = 1;
  if (!trend_is_alike(pull, before, error))
    return NULL;
  if (desk->book && pull->id) {
    here = count_here(desk, pull);
    if (!before)
      before = found = ew_desk_step_below(desk, pull);
  }
  struct ew_step_up_input input = {.curve = pull->curve,
                                   .before = before ? before->curve : NULL,
                                   .engine = &pull->engine,
                                   .bench = &desk->bench,
                                   .setup = &pull->setup,
                                   .valid_pulls_here = here,
                                   .lambda_target = pull->setup.lambda_target,
                                   .next_rpm = next_rpm,
                                   .discarded = pull->row.discarded};
  gboolean book = desk->book && pull->id;
  g_autoptr(GPtrArray) open = book ? ew_trips_open(desk->book, pull->row.engine_id) : NULL;
  g_autoptr(ew_message) tripped =
      book && pull->row.tripped ? ew_trips_of_pull(desk->book, pull->id) : NULL;
  g_autoptr(GPtrArray) higher = book ? stopped_higher(desk, pull) : NULL;
  input.open_trips = open;
  input.higher = higher;
  input.tripped = tripped;
  struct ew_step_up *step = ew_step_up(&input);
  ew_loaded_free(found);
  if (!keep || !desk->book || !pull->id || pull->differs)
    return step;
  struct ew_json json = {.text = g_string_new(NULL), .facts = TRUE};
  ew_json_open(&json, NULL);
  ew_step_up_write_json(step, &json);
  ew_json_close(&json);
  g_autoptr(GPtrArray) alone = g_ptr_array_new();
  g_ptr_array_add(alone, ew_as_pointer(pull));
  g_autofree char *asked = asked_key(alone, NULL);
  gboolean kept = keep_answer(desk, pull->row.engine_id, "step-up", "step-up", asked, step->says,
                              json.text, error);
  g_string_free(json.text, TRUE);
  if (kept)
    return step;
  ew_step_up_free(step);
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
