/* Calibrations, zeros and check weights as they count for pulls. Rows are read once for each question; a book has some hundred
 * of them in ten years, so all are gone through. A row's JSON is what its command wrote; what an earlier program left out there is not
 * known. */
#include "desk/calibrated.h"
#include "gas/moist_air.h"
#include "base/error.h"
#include "base/json_writer.h"
#include "base/node.h"
#include "base/number.h"
#include "base/statistics.h"
#include "base/words.h"
#include "book/calibration_back.h"
#include "book/keep.h"
#include "pull/plausible_kinds.h"
#include <math.h>
#include <string.h>

#define KIND_CALIBRATION "calibration"
#define KIND_ZERO        "zero"
#define KIND_WEIGHT      "check weight"
/* A chart's limits are never narrower than a load cell can be read; common practice, no source. */
#define WEIGHT_READABLE 0.001

EW_MESSAGE(
    gain_moved, "desk.gain-moved", EW_CAUTION,
    "the calibration of {day} moves the gain by {change}, over the limit of {limit}: computed "
    "with it, this pull reads {effect}");
EW_MESSAGE(sensor_moved, "desk.sensor-moved", EW_CAUTION,
           "the calibration of {day} moves {channel} from {before} to {after}, more than the limit "
           "of {limit}: this pull was computed with {before}");
EW_MESSAGE(
    weight_out, "desk.check-weight-out", EW_CAUTION,
    "the check weight of {day} was off by {change}, outside {low} to {high}, and the last good "
    "one is of {since}: this pull may read wrong by as much");
EW_MESSAGE(none_good, "desk.no-good-check", EW_NOTE, "none");

/* A figure of a row's JSON; NaN: not there. */
static double figure_of(const struct ew_node *root, const char *key) {
  const struct ew_node *node = root ? ew_node_member(root, key) : NULL;
  double value;
  return node && node->text && ew_number_parse(node->text, &value) ? value : (double)NAN;
}

static struct ew_node *node_of(const struct ew_calibration_row *row) {
  return row->json ? ew_node_parse(row->kind, row->json, strlen(row->json), NULL) : NULL;
}

char *ew_check_weight_facts(double read_n_m, double expected_n_m) {
  struct ew_json json = {.text = g_string_new(NULL)};
  ew_json_open(&json, NULL);
  ew_json_number(&json, "read_n_m", read_n_m);
  ew_json_number(&json, "expected_n_m", expected_n_m);
  ew_json_close(&json);
  return g_string_free(json.text, FALSE);
}

static gboolean is_kind(const struct ew_calibration_row *row, const char *kind) {
  return strcmp(row->kind, kind) == 0;
}

static double zero_if_absent(double value) {
  return isnan(value) ? 0 : value;
}

static struct ew_calibrated_line line_of(const struct ew_calibration_row *row, double at_s) {
  g_assert(is_kind(row, KIND_CALIBRATION));
  g_autoptr(ew_node) root = node_of(row);
  double until = row->valid_until ? ew_time_parse(row->valid_until) : (double)NAN;
  return (struct ew_calibrated_line){
      .channel = (int)ew_calibration_channel(row),
      .gain = row->value,
      .gain_u = zero_if_absent(figure_of(root, "gain_standard_uncertainty")),
      .offset =
          zero_if_absent(figure_of(root, "offset_n_m")) + zero_if_absent(figure_of(root, "offset")),
      .offset_u = zero_if_absent(figure_of(root, "offset_standard_uncertainty_n_m")) +
                  zero_if_absent(figure_of(root, "offset_standard_uncertainty")),
      .covariance = zero_if_absent(figure_of(root, "covariance")),
      .points = figure_of(root, "points"),
      .zero_age_s = NAN,
      .hysteresis = figure_of(root, "hysteresis_n_m"),
      .at = g_strdup(row->at),
      .expired = at_s > until};
}

/* A zero takes the place of the line's own offset: no torque reads so now. */
static void take_zero(struct ew_calibrated *c, const struct ew_calibration_row *row, double at_s) {
  g_assert(is_kind(row, KIND_ZERO));
  g_autoptr(ew_node) root = node_of(row);
  double left = figure_of(root, "left_n_m");
  const struct ew_calibrated_line *there = ew_calibrated_find(c, EW_CHANNEL_TORQUE);
  struct ew_calibrated_line line =
      there ? *there : (struct ew_calibrated_line){.gain = 1, .points = NAN, .hysteresis = NAN};
  line.channel = EW_CHANNEL_TORQUE;
  line.at = g_strdup(there ? there->at : NULL);
  line.offset = 0;
  line.zero = isnan(left) ? row->value : left;
  line.zero_age_s = at_s - ew_time_parse(row->at);
  ew_calibrated_add(c, line);
}

/* What the rows before `end` put in force at a time; zeros that were not good until then are left out. `instead` (NULL: none): goes before
 * all others of its channel, whenever it was done. */
static struct ew_calibrated *in_force_with(const GArray *rows, guint end, double at_s,
                                           const struct ew_calibration_row *instead) {
  g_assert(end <= rows->len);
  struct ew_calibrated *c = ew_calibrated_new();
  const struct ew_calibration_row *zero = NULL;
  for (guint i = 0; i < end; i++) {
    const struct ew_calibration_row *row = &g_array_index(rows, struct ew_calibration_row, i);
    double then = ew_time_parse(row->at);
    gboolean replaced = instead && is_kind(row, KIND_CALIBRATION) &&
                        ew_calibration_channel(row) == ew_calibration_channel(instead);
    if (!(then <= at_s) || replaced)
      continue;
    if (is_kind(row, KIND_CALIBRATION) && isfinite(row->value)) {
      ew_calibrated_add(c, line_of(row, at_s));
      zero = ew_calibration_channel(row) == EW_CHANNEL_TORQUE ? NULL : zero;
    } else if (is_kind(row, KIND_ZERO) && isfinite(row->value))
      zero = at_s - then <= EW_ZERO_HOURS * 3600 ? row : NULL;
  }
  if (instead)
    ew_calibrated_add(c, line_of(instead, at_s));
  if (zero)
    take_zero(c, zero, at_s);
  if (c->lines->len)
    return c;
  ew_calibrated_free(c);
  return NULL;
}

static struct ew_calibrated *in_force(const GArray *rows, guint end, double at_s) {
  return in_force_with(rows, end, at_s, NULL);
}

gboolean ew_desk_calibrated(struct ew_book *book, const char *at, struct ew_calibrated **calibrated,
                            GError **error) {
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_calibration_list(book, NULL, &problem);
  *calibrated = problem ? NULL : in_force(rows, rows->len, ew_time_parse(at));
  if (problem)
    g_propagate_error(error, problem);
  return problem == NULL;
}

gboolean ew_desk_calibrated_by(struct ew_book *book, const char *at, gint64 id,
                               struct ew_calibrated **calibrated, GError **error) {
  GError *problem = NULL;
  struct ew_calibration_row row;
  *calibrated = NULL;
  if (!ew_calibration_find(book, id, &row, error))
    return FALSE;
  g_autoptr(GArray) rows = ew_calibration_list(book, NULL, &problem);
  gboolean good = !problem;
  if (problem)
    g_propagate_error(error, problem);
  else if (!is_kind(&row, KIND_CALIBRATION))
    good = ew_refuse(error, "calibration: number %lld is a %s", (long long)id, row.kind);
  if (good)
    *calibrated = in_force_with(rows, rows->len, ew_time_parse(at), &row);
  ew_calibration_back_clear(&row);
  return good;
}

/* ---- taken back ---- */

struct taking_back {
  const struct ew_desk *desk;
  gint64 id;
  const char *reason;
  GArray *held;
};

/* Was it computed with that very calibration? */
static gboolean used(struct ew_book *book, gint64 pull_id, const struct ew_calibration_row *row,
                     gboolean *with, GError **error) {
  struct ew_curve_row curve;
  g_autoptr(ew_calibrated) c = NULL;
  if (!ew_curve_get(book, pull_id, &curve, error))
    return FALSE;
  gboolean good = ew_calibrated_parse(curve.calibration, &c, error);
  const struct ew_calibrated_line *line = ew_calibrated_find(c, ew_calibration_channel(row));
  *with = line && g_strcmp0(line->at, row->at) == 0;
  ew_curve_row_clear(&curve);
  return good;
}

static gboolean hold_used(const struct taking_back *t, const struct ew_calibration_row *row,
                          GError **error) {
  struct ew_book *book = t->desk->book;
  g_autofree char *day = g_strndup(row->at, 10);
  g_autoptr(GPtrArray) found = ew_messages_new();
  ew_messages_add(
      found, ew_message_about(
                 ew_message(&ew_doubt_calibration_back, ew_say_text("day", day),
                            ew_say_word("channel", ew_channel_word(ew_calibration_channel(row))),
                            ew_say_text("why", t->reason)),
                 "calibration"));
  g_autoptr(GArray) pulls = ew_pull_list(book, 0, error);
  gboolean good = pulls != NULL;
  for (guint i = 0; good && i < pulls->len; i++) {
    gint64 id = g_array_index(pulls, struct ew_pull_row, i).id;
    gboolean with = FALSE;
    good =
        used(book, id, row, &with, error) && (!with || ew_keep_hold(book, id, found, NULL, error));
    if (good && with)
      g_array_append_val(t->held, id);
  }
  return good;
}

static gboolean back_body(struct ew_book *book, gpointer user, GError **error) {
  const struct taking_back *t = user;
  struct ew_calibration_row row;
  g_array_set_size(t->held, 0);
  if (!ew_calibration_find(book, t->id, &row, error))
    return FALSE;
  gboolean good = ew_keep_calibration_back(book, t->id, t->reason, error) &&
                  (!is_kind(&row, KIND_CALIBRATION) || hold_used(t, &row, error));
  ew_calibration_back_clear(&row);
  return good;
}

gboolean ew_desk_calibration_back(const struct ew_desk *desk, gint64 id, const char *reason,
                                  GArray *held, GError **error) {
  struct taking_back t = {desk, id, reason, held};
  return ew_book_as_one(desk->book, back_body, &t, error);
}

/* A check weight, corrected by what was in force before it. Rows of an earlier program say the ratio alone. */
static double weight_value(const GArray *rows, guint at) {
  g_assert(at < rows->len);
  const struct ew_calibration_row *row = &g_array_index(rows, struct ew_calibration_row, at);
  g_autoptr(ew_node) root = node_of(row);
  g_autoptr(ew_calibrated) c = in_force(rows, at, ew_time_parse(row->at));
  const struct ew_calibrated_line *line = ew_calibrated_find(c, EW_CHANNEL_TORQUE);
  double read = figure_of(root, "read_n_m"), expected = figure_of(root, "expected_n_m");
  if (!line)
    return row->value;
  return isnan(read) || !(expected > 0) ? line->gain * row->value
                                        : ew_calibrated_value(line, read) / expected;
}

double *ew_desk_chart_values(const GArray *rows, const char *kind, gsize *count) {
  double *values = g_new(double, rows->len + 1);
  *count = 0;
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_calibration_row *row = &g_array_index(rows, struct ew_calibration_row, i);
    if (is_kind(row, kind))
      values[(*count)++] = is_kind(row, KIND_WEIGHT) ? weight_value(rows, i) : row->value;
  }
  g_assert(*count <= rows->len);
  return values;
}

/* ---- what a new one puts in doubt ---- */

struct keeping {
  const struct ew_desk *desk;
  const struct ew_calibration_row *row;
  struct ew_calibration_kept *kept;
};

/* Was the check weight of this row inside its limits, those of a chart of the ones before it? */
static gboolean weight_is_good(const struct ew_desk *desk, const double *values, gsize n,
                               struct ew_control *chart) {
  g_assert(n > 0);
  double limit = desk->bench.calibration_limit, value = values[n - 1];
  *chart = ew_control_chart(values, n);
  if (!isnan(chart->centre)) {
    chart->lower = fmin(chart->lower, chart->centre - WEIGHT_READABLE);
    chart->upper = fmax(chart->upper, chart->centre + WEIGHT_READABLE);
  }
  chart->in_control = !(value < chart->lower) && !(value > chart->upper);
  return chart->in_control && fabs(value - 1) <= limit;
}

/* When the last good calibration or check weight before row `end` was; NULL: there is none. */
static const char *last_good(const struct ew_desk *desk, const GArray *rows, guint end) {
  g_autofree double *values = g_new(double, rows->len + 1);
  const char *good = NULL;
  gsize n = 0;
  for (guint i = 0; i < end; i++) {
    const struct ew_calibration_row *row = &g_array_index(rows, struct ew_calibration_row, i);
    struct ew_control chart;
    if (is_kind(row, KIND_CALIBRATION) && ew_calibration_channel(row) == EW_CHANNEL_TORQUE)
      good = row->at;
    else if (is_kind(row, KIND_WEIGHT)) {
      values[n++] = weight_value(rows, i);
      if (weight_is_good(desk, values, n, &chart))
        good = row->at;
    }
  }
  return good;
}

/* When another sensor than the load cell was calibrated before row `end`; NULL: never. */
static const char *last_of_channel(const GArray *rows, guint end, enum ew_channel channel) {
  const char *good = NULL;
  for (guint i = 0; i < end; i++) {
    const struct ew_calibration_row *row = &g_array_index(rows, struct ew_calibration_row, i);
    if (is_kind(row, KIND_CALIBRATION) && ew_calibration_channel(row) == channel)
      good = row->at;
  }
  return good;
}

static double gain_of(const struct ew_calibrated *c) {
  const struct ew_calibrated_line *line = ew_calibrated_find(c, EW_CHANNEL_TORQUE);
  return line ? line->gain : 1;
}

static ew_message *gain_finding(const struct keeping *k, const struct ew_loaded *pull) {
  g_assert(ew_calibration_channel(k->row) == EW_CHANNEL_TORQUE);
  double change = k->row->value / gain_of(pull->calibration) - 1;
  g_autofree char *day = g_strndup(k->row->at, 10);
  return ew_message(&gain_moved, ew_say_text("day", day), ew_say_share_change("change", change, 2),
                    ew_say_share("limit", k->desk->bench.calibration_limit, 1),
                    ew_say_share_change("effect", change, 2));
}

/* How far a sensor may have moved before the pulls since its last calibration are asked about; common practice, no source.
 * share: of the reading. */
static const struct {
  enum ew_kind kind;
  double limit;
  gboolean share;
  int decimals;
} sensor_limits[] = {
    {EW_KIND_TEMPERATURE, 3, FALSE, 1},      {EW_KIND_PRESSURE_ABSOLUTE, 400, FALSE, 1},
    {EW_KIND_PRESSURE_GAUGE, 0.05, TRUE, 2}, {EW_KIND_LAMBDA, 0.02, FALSE, 3},
    {EW_KIND_MASS_FLOW, 0.02, TRUE, 2},      {EW_KIND_RATIO, 0.05, FALSE, 3},
};

static gboolean is_of_vapour(enum ew_channel channel) {
  return channel == EW_CHANNEL_HUMIDITY || channel == EW_CHANNEL_DEW_POINT;
}

/* Humidity and dew point are kept as the vapour pressure that they gave. Which of the two was read is not kept: where only the other was,
 * the pull is asked about in vain, once. */
static double vapour_reading(const struct ew_conditions *c, enum ew_channel channel) {
  if (strcmp(c->humidity_from, "channel") != 0 || !(c->vapour_pa > 0))
    return NAN;
  return channel == EW_CHANNEL_DEW_POINT
             ? ew_dew_point_k(c->vapour_pa)
             : c->vapour_pa / ew_saturation_pressure_pa(c->temperature_k);
}

/* What a pull was computed with of that channel; NaN: nothing. */
static double reading_of(const struct ew_curve *curve, enum ew_channel channel) {
  if (channel == EW_CHANNEL_BAROMETER)
    return strcmp(curve->conditions.pressure_from, "channel") == 0 ? curve->conditions.pressure_pa
                                                                   : (double)NAN;
  if (is_of_vapour(channel))
    return vapour_reading(&curve->conditions, channel);
  const struct ew_curve_column *column = ew_curve_column(curve, ew_channel_facts[channel].key, 0);
  gsize absent; /* of the known ones */
  return column ? ew_median(column->values, curve->points, &absent) : (double)NAN;
}

static ew_message *sensor_finding(const struct keeping *k, const struct ew_loaded *pull) {
  enum ew_channel channel = ew_calibration_channel(k->row);
  g_assert(channel < EW_CHANNELS_COUNT);
  enum ew_kind kind = ew_channel_facts[channel].kind;
  const struct ew_calibrated_line *was = ew_calibrated_find(pull->calibration, channel);
  double value = reading_of(pull->curve, channel);
  struct ew_calibrated_line now = line_of(k->row, NAN);
  double then = ew_calibrated_value(&now, was ? ew_calibrated_read_of(was, value) : value);
  g_free(now.at);
  for (gsize i = 0; i < G_N_ELEMENTS(sensor_limits); i++) {
    if (sensor_limits[i].kind != kind)
      continue;
    double limit = sensor_limits[i].limit * (sensor_limits[i].share ? fabs(value) : 1);
    if (!(fabs(then - value) > limit))
      return NULL;
    g_autofree char *day = g_strndup(k->row->at, 10);
    int decimals = sensor_limits[i].decimals;
    return ew_message(&sensor_moved, ew_say_text("day", day),
                      ew_say_word("channel", ew_channel_word(channel)),
                      ew_say_quantity("before", kind, value, decimals),
                      ew_say_quantity("after", kind, then, decimals),
                      ew_say_change("limit", kind, limit, decimals));
  }
  return NULL;
}

static ew_message *weight_finding(const struct keeping *k, const char *since) {
  g_autofree char *day = g_strndup(k->row->at, 10), *good = since ? g_strndup(since, 10) : NULL;
  const struct ew_control *c = &k->kept->chart;
  double limit = k->desk->bench.calibration_limit;
  double low = isnan(c->lower) ? -limit : fmax(c->lower - 1, -limit),
         high = isnan(c->upper) ? limit : fmin(c->upper - 1, limit);
  return ew_message(&weight_out, ew_say_text("day", day),
                    ew_say_share_change("change", k->kept->value - 1, 2),
                    ew_say_share_change("low", low, 2), ew_say_share_change("high", high, 2),
                    good ? ew_say_text("since", good) : ew_say_word("since", &none_good));
}

/* Everything measured in this cell after the last good one and up to now. */
static gboolean hold_since(const struct keeping *k, const char *since, GError **error) {
  double from = since ? ew_time_parse(since) : -INFINITY, to = ew_time_parse(k->row->at);
  g_autoptr(GArray) rows = ew_pull_list(k->desk->book, 0, error);
  for (guint i = 0; rows && i < rows->len; i++) {
    const struct ew_pull_row *row = &g_array_index(rows, struct ew_pull_row, i);
    double at = ew_time_parse(row->at);
    if (!(at > from) || !(at <= to) || row->invented)
      continue;
    struct ew_loaded *pull = ew_desk_load_id(k->desk, row->id, error);
    if (!pull)
      return FALSE;
    g_autoptr(GPtrArray) found = ew_messages_new();
    if (!is_kind(k->row, KIND_CALIBRATION))
      ew_messages_add(found, weight_finding(k, since));
    else if (ew_calibration_channel(k->row) != EW_CHANNEL_TORQUE)
      ew_messages_add(found, sensor_finding(k, pull));
    else if (!(fabs(k->row->value / gain_of(pull->calibration) - 1) <=
               k->desk->bench.calibration_limit))
      ew_messages_add(found, gain_finding(k, pull));
    ew_loaded_free(pull);
    guint added = 0;
    if (found->len && !ew_keep_hold(k->desk->book, row->id, found, &added, error))
      return FALSE;
    if (added)
      g_array_append_val(k->kept->held, row->id);
  }
  return rows != NULL;
}

static gboolean judge_row(struct keeping *k, const GArray *rows, GError **error) {
  g_assert(rows->len > 0); /* its own is among them */
  struct ew_calibration_kept *kept = k->kept;
  gsize count;
  g_autofree double *values = ew_desk_chart_values(rows, k->row->kind, &count);
  guint at = rows->len - 1;
  kept->count = (guint)count;
  kept->value = count ? values[count - 1] : (double)NAN;
  kept->chart = ew_control_chart(values, count);
  kept->good = kept->chart.in_control;
  kept->change = NAN;
  if (is_kind(k->row, KIND_WEIGHT))
    kept->good = weight_is_good(k->desk, values, count, &kept->chart);
  if (is_kind(k->row, KIND_CALIBRATION)) {
    g_autoptr(ew_calibrated) before = in_force(rows, at, ew_time_parse(k->row->at));
    if (ew_calibration_channel(k->row) != EW_CHANNEL_TORQUE)
      return hold_since(k, last_of_channel(rows, at, ew_calibration_channel(k->row)), error);
    kept->change = k->row->value / gain_of(before) - 1;
    kept->good = fabs(kept->change) <= k->desk->bench.calibration_limit;
  }
  return kept->good || is_kind(k->row, KIND_ZERO) ||
         hold_since(k, last_good(k->desk, rows, at), error);
}

static gboolean keep_body(struct ew_book *book, gpointer user, GError **error) {
  struct keeping *k = user;
  g_array_set_size(k->kept->held, 0);
  if (!ew_keep_calibration(book, k->row, error))
    return FALSE;
  GError *problem = NULL;
  g_autoptr(GArray) rows = ew_calibration_list(book, NULL, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  return judge_row(k, rows, error);
}

gboolean ew_desk_calibration_keep(const struct ew_desk *desk, const struct ew_calibration_row *row,
                                  struct ew_calibration_kept *kept, GError **error) {
  g_autofree char *now = ew_time_now();
  struct ew_calibration_row own = *row;
  own.at = row->at ? row->at : now;
  *kept = (struct ew_calibration_kept){.held = g_array_new(FALSE, FALSE, sizeof(gint64))};
  struct keeping k = {desk, &own, kept};
  if (ew_book_as_one(desk->book, keep_body, &k, error))
    return TRUE;
  ew_calibration_kept_clear(kept);
  return FALSE;
}

void ew_calibration_kept_clear(struct ew_calibration_kept *kept) {
  g_clear_pointer(&kept->held, g_array_unref);
}
