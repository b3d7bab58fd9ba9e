/* Where is the best spark, the best mixture? A sweep is of one setting; what else differs is asked about on purpose, or refused. */
#include "desk/question_parts.h"
#include "base/error.h"
#include "base/statistics.h"
#include <math.h>

EW_MESSAGE(history_short, "desk.history-short", EW_CAUTION,
           "{pull} of the history does not reach over {from} to {to} and is left out");
EW_MESSAGE(sweep_on_purpose, "desk.sweep-on-purpose", EW_CAUTION,
           "asked on purpose although {differences}");
EW_MESSAGE(sweep_best, "desk.sweep-best", EW_NOTE, "best at {best} ({low} to {high}); {reason}");
EW_MESSAGE(sweep_chosen, "desk.sweep-chosen", EW_NOTE,
           "least setting within the margin: {chosen} (best {best}, {low} to {high}); {reason}");

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
                                     GPtrArray *warnings, char **learned_from) {
  g_assert(history->len == group->len);
  if (history->len) {
    g_autofree double *value = g_new(double, history->len);
    for (guint i = 0; i < history->len; i++) {
      const struct ew_loaded *l = g_ptr_array_index(history, i);
      value[i] = ew_curve_band_log(l->curve, low, high);
      if (isnan(value[i]))
        ew_messages_add(warnings,
                        ew_message(&history_short, EW_SAY_PULL("pull", l),
                                   ew_say_quantity("from", EW_KIND_ROTATIONAL_SPEED, low, 0),
                                   ew_say_quantity("to", EW_KIND_ROTATIONAL_SPEED, high, 0)));
    }
    return ew_pooled_spread(value, (const int *)(void *)group->data, NULL, history->len, FALSE);
  }
  if (desk->book && ew_question_of_book(pulls))
    return ew_desk_history_of(desk, 0, NULL, learned_from).levels[EW_LEVEL_CONSECUTIVE];
  g_autofree double *value = g_new(double, pulls->len);
  g_autofree int *same = g_new(int, pulls->len);
  for (guint i = 0; i < pulls->len; i++) {
    value[i] = rows[i].log_mean;
    same[i] = (int)lround(rows[i].setting * 1000);
  }
  return ew_pooled_spread(value, same, NULL, pulls->len, FALSE);
}

static void write_sweep(const void *answer, struct ew_json *json) {
  ew_sweep_write_json(answer, json);
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
  g_autoptr(GPtrArray) pulls = ew_question_once(desk, all_pulls, met, same);
  g_autoptr(GPtrArray) history =
      ew_question_history_once(desk, all_history, all_groups, met, group, same);
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
  g_autofree char *learned_from = NULL;
  struct ew_spread spread =
      sweep_spread(desk, pulls, rows, history, group, low, high, same, &learned_from);
  struct ew_sweep_options o = {.setting = setting,
                               .margin = isnan(margin) ? 0.005 : margin,
                               .reserve = reserve,
                               .sd = sqrt(spread.sd * spread.sd + added),
                               .freedom = spread.freedom};
  o.fit_drift = pulls->len >= 5 &&
                fabs(rows[0].setting - rows[pulls->len - 1].setting) < ew_sweep_apart(setting);
  g_autofree const struct ew_curve **curves = g_new(const struct ew_curve *, pulls->len + 1);
  for (guint i = 0; i < pulls->len; i++)
    curves[i] = ((const struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
  struct ew_question_cost cost = ew_question_cost(curves, pulls->len);
  o.minutes_a_pull = cost.minutes;
  o.litres_a_pull = cost.litres;
  o.seconds_high_a_pull = cost.seconds_high;
  g_autoptr(ew_message) look = ew_question_look_first(desk, pulls);
  o.look_first = look;
  struct ew_sweep *sweep = ew_sweep(rows, pulls->len, &o, error);
  if (sweep) {
    ew_messages_copy(same, sweep->warnings);
    ew_question_set_aside(desk, pulls, sweep->warnings);
  }
  if (!sweep || !keep || !desk->book || !ew_question_of_book(pulls) || ew_question_differs(pulls))
    return sweep;
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
  struct ew_question_said said = ew_question_nothing_said();
  said.margin = margin;
  said.reserve = reserve;
  said.despite = despite;
  if (ew_question_keep(desk,
                       &(struct ew_question_answer){.question = what,
                                                    .pair = what,
                                                    .a = pulls,
                                                    .learned = learned_from,
                                                    .said = said,
                                                    .says = says,
                                                    .write = write_sweep,
                                                    .answer = sweep},
                       error))
    return sweep;
  ew_sweep_free(sweep);
  return NULL;
}
