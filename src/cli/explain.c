/* `pull explain`: one figure of a curve, walked back to the samples of its recording, by weight. */
#include "base/error.h"
#include "desk/alike.h"
#include "base/number.h"
#include "cli/air_from.h"
#include "cli/command.h"
#include "cli/explain_doubt.h"
#include "cli/thin.h"
#include "gas/moist_air.h"
#include "pull/findings.h"
#include "desk/question.h"
#include "pull/explain.h"
#include <math.h>
#include <string.h>

static const struct ew_option_spec explain_options[] = {
    EW_DESK_OPTIONS,
    {"speed", "Q", EW_TEXT("which point of the curve (default: the highest power)"), FALSE},
    {"figure", EW_TEXT("NAME"),
     EW_TEXT("torque, or a column of the curve: lambda, oil_pressure, bmep (torque)"), FALSE},
    {"samples", EW_TEXT("FILE"),
     EW_TEXT("every sample with its weight in the figure, as CSV in SI"), FALSE},
    {NULL, NULL, NULL, FALSE}};

struct explaining {
  struct ew_recomputed again;     /* from the book */
  struct ew_book *book;           /* that it is in; NULL: a file */
  struct ew_processed *processed; /* or from a file; borrowed from `again` otherwise */
  struct ew_reduce_facts facts;
  guint part;
  char *sha256, *name, *digest;
  GPtrArray *differs; /* given in place of what is kept: which records; NULL: as kept */
};

static gboolean begin_explaining(const struct ew_call *call, struct ew_desk *desk,
                                 struct explaining *e, GError **error) {
  const char *what = ew_call_argument(call, 0);
  gboolean number = *what && strspn(what, "0123456789") == strlen(what);
  if (!number) {
    g_autoptr(GBytes) bytes = ew_read_file(what, error);
    e->processed = bytes ? ew_desk_process(desk, bytes, what, error) : NULL;
    if (!e->processed)
      return FALSE;
    e->facts = ew_desk_facts(desk);
    e->sha256 = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);
    e->name = g_strdup(what);
    return ew_desk_has_pulls(e->processed, what, error);
  }
  if (!desk->book)
    return ew_refuse(error, "'%s' is a pull number, and no book is open; give --book, or a file",
                     what);
  g_autoptr(GPtrArray) differs = ew_messages_new();
  if (!ew_desk_recompute(desk, g_ascii_strtoll(what, NULL, 10), &e->again, differs, error))
    return FALSE;
  if (differs->len)
    e->differs = g_steal_pointer(&differs);
  struct ew_curve_row row;
  if (!e->differs && ew_curve_get(desk->book, e->again.pull.id, &row, NULL)) {
    e->digest = g_strdup(row.digest);
    ew_curve_row_clear(&row);
  }
  e->book = desk->book;
  e->processed = e->again.processed;
  e->facts = ew_recomputed_facts(&e->again);
  e->part = e->again.part;
  e->sha256 = g_strdup(e->again.recording.sha256);
  e->name = g_strdup(e->again.recording.name);
  return TRUE;
}

static void end_explaining(struct explaining *e) {
  if (e->again.processed)
    ew_recomputed_clear(&e->again);
  else
    ew_processed_free(e->processed);
  g_free(e->sha256);
  g_free(e->name);
  g_free(e->digest);
  g_clear_pointer(&e->differs, g_ptr_array_unref);
}

static struct ew_budget budget_of(struct ew_desk *desk, const struct explaining *e,
                                  const struct ew_origin *o) {
  struct ew_learned learned = {0};
  const struct ew_curve *c = g_ptr_array_index(e->processed->curves, e->part);
  if (desk->book && e->again.pull.id)
    learned = ew_desk_history(desk, 0, NULL);
  return ew_budget(e->facts.bench, e->facts.calibration, c, o->torque_n_m, o->inertia_n_m,
                   o->torque_se_n_m, learned.levels[EW_LEVEL_CONSECUTIVE], EW_HOURS_SINCE_ZERO);
}

/* What raw was corrected by, before anything else was done with it. */
static void say_calibration(const struct explaining *e, const struct ew_origin *o,
                            enum ew_unit_system units) {
  const struct ew_calibrated_line *line =
      ew_calibrated_find(e->facts.calibration, EW_CHANNEL_TORQUE);
  if (!line)
    return;
  double read = ew_calibrated_read_of(line, o->measured_n_m);
  ew_say("   the load cell read %.2f %s; calibrated: %.5f x (read - %.2f) + %.2f %s",
         ew_shown(EW_KIND_TORQUE, units, read), ew_kind_shown(EW_KIND_TORQUE, units), line->gain,
         ew_shown(EW_KIND_TORQUE, units, line->zero), ew_shown(EW_KIND_TORQUE, units, line->offset),
         ew_kind_shown(EW_KIND_TORQUE, units));
  if (line->at)
    ew_say(line->expired ? EW_TEXT("   calibrated on %.10s, and no longer valid when the pull ran")
                         : EW_TEXT("   calibrated on %.10s"),
           line->at);
}

/* What the pull was computed with of a channel, at this speed where it is in the curve. NaN: nothing. */
static double value_at(const struct ew_curve *c, enum ew_channel channel, double speed_rpm) {
  const struct ew_curve_column *column = ew_curve_column(c, ew_channel_facts[channel].key, 0);
  if (column)
    return ew_curve_at(c, column->values, speed_rpm);
  return channel == EW_CHANNEL_BAROMETER ? c->conditions.pressure_pa
         : channel == EW_CHANNEL_HUMIDITY
             ? c->conditions.vapour_pa / ew_saturation_pressure_pa(c->conditions.temperature_k)
             : (double)NAN;
}

/* The other sensors whose raw was corrected. */
static void say_sensors(const struct explaining *e, const struct ew_origin *o,
                        enum ew_unit_system units) {
  const struct ew_curve *c = g_ptr_array_index(e->processed->curves, e->part);
  const GArray *lines = e->facts.calibration ? e->facts.calibration->lines : NULL;
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_calibrated_line *line = &g_array_index(lines, struct ew_calibrated_line, i);
    enum ew_channel channel = (enum ew_channel)line->channel;
    double value = value_at(c, channel, o->speed_rpm);
    if (channel == EW_CHANNEL_TORQUE || isnan(value))
      continue;
    enum ew_kind kind = ew_channel_facts[channel].kind;
    g_autofree char *now = ew_quantity_format(kind, units, value, 2);
    g_autofree char *read = ew_quantity_format(kind, units, ew_calibrated_read_of(line, value), 2);
    ew_say(line->expired ? EW_TEXT("   %s: read %s; calibrated on %.10s, no longer valid: %s")
                         : EW_TEXT("   %s: read %s; calibrated on %.10s: %s"),
           ew_tr(ew_channel_facts[channel].label), read, line->at ? line->at : "-", now);
  }
}

static void write_sensors(const struct explaining *e, struct ew_json *json) {
  const GArray *lines = e->facts.calibration ? e->facts.calibration->lines : NULL;
  ew_json_open_array(json, "sensors");
  for (guint i = 0; lines && i < lines->len; i++) {
    const struct ew_calibrated_line *line = &g_array_index(lines, struct ew_calibrated_line, i);
    if (line->channel == EW_CHANNEL_TORQUE)
      continue;
    ew_json_open(json, NULL);
    ew_json_text(json, "channel", ew_channel_facts[line->channel].key);
    ew_json_text(json, "at", line->at);
    ew_json_boolean(json, "expired", line->expired);
    ew_json_number(json, "gain", line->gain);
    ew_json_number(json, "gain_standard_uncertainty", line->gain_u);
    ew_json_number(json, "offset", line->offset);
    ew_json_number(json, "offset_standard_uncertainty", line->offset_u);
    ew_json_number(json, "covariance", line->covariance);
    ew_json_close(json);
  }
  ew_json_close_array(json);
}

/* null: nothing was applied. */
static void write_calibration(const struct explaining *e, const struct ew_origin *o,
                              struct ew_json *json) {
  const struct ew_calibrated_line *line =
      ew_calibrated_find(e->facts.calibration, EW_CHANNEL_TORQUE);
  if (!line) {
    ew_json_text(json, "calibration", NULL);
    return;
  }
  ew_json_open(json, "calibration");
  ew_json_text(json, "at", line->at);
  ew_json_boolean(json, "expired", line->expired);
  ew_json_number(json, "gain", line->gain);
  ew_json_number(json, "gain_standard_uncertainty", line->gain_u);
  ew_json_number(json, "offset_n_m", line->offset);
  ew_json_number(json, "offset_standard_uncertainty_n_m", line->offset_u);
  ew_json_number(json, "zero_n_m", line->zero);
  ew_json_number(json, "zero_age_s", line->zero_age_s);
  ew_json_number(json, "read_torque_n_m", ew_calibrated_read_of(line, o->measured_n_m));
  ew_json_close(json);
}

/* A torque as the book shows it, to two decimals: what is walked back is smaller than what is printed elsewhere. */
struct torques {
  char text[48];
};
static const char *torque_of(struct torques *t, enum ew_unit_system units, double n_m) {
  g_autofree char *text = ew_quantity_format(EW_KIND_TORQUE, units, n_m, 2);
  g_strlcpy(t->text, text, sizeof t->text);
  return t->text;
}

/* Of a pull in the book; the error goes to who ends the command. */
static void tell_around(const struct explaining *e, struct ew_json *json) {
  if (e->book)
    ew_idle_around(e->book, e->again.pull.recording_id, json, NULL);
}

static void say_origin(const struct explaining *e, const struct ew_origin *o,
                       const struct ew_budget *b, enum ew_unit_system units) {
  const struct ew_curve *c = g_ptr_array_index(e->processed->curves, e->part);
  g_autofree char *torque =
      ew_number_with_uncertainty(ew_shown(EW_KIND_TORQUE, units, o->torque_n_m),
                                 ew_shown(EW_KIND_TORQUE, units, b->expanded_n_m));
  g_autofree char *power = ew_quantity_format(EW_KIND_POWER, units, o->power_w, 1);
  ew_say("%s %s at %#.0f rpm (%s), expanded uncertainty at 95 %%", torque,
         ew_kind_shown(EW_KIND_TORQUE, units), o->speed_rpm, power);
  if (o->speed_rpm == c->speed_rpm[ew_curve_peak(c, c->power_w)] &&
      ew_curve_peak_is_at_end(c, c->power_w))
    ew_say("   the highest power, at an end of the curve: the highest may lie beyond");
  ew_say(" 1 recording %s, SHA-256 %s", e->name, e->sha256);
  ew_say(
      " 2 samples: %zu with weight, %.2f to %.2f s, %#.0f to %#.0f rpm; %zu more were altered by "
      "cleaning and have no weight",
      o->samples, o->first_s, o->last_s, o->low_rpm, o->high_rpm, o->touched);
  tell_around(e, NULL);
  struct torques t;
  ew_say(" 3 torque as measured, local regression over ±%#.0f rpm: %s", c->method.half_width_rpm,
         torque_of(&t, units, o->measured_n_m));
  say_calibration(e, o, units);
  say_sensors(e, o, units);
  if (isnan(e->facts.bench->rotor_inertia_kg_m2) && c->kind == EW_SEGMENT_SWEEP)
    ew_say(" 4 acceleration %.1f rpm/s; the rotor's inertia is not stated in the cell's record: "
           "the torque that accelerates it is not added back",
           o->acceleration_rpm_s);
  else
    ew_say(" 4 acceleration %.1f rpm/s; rotor and coupling take %s: added back",
           o->acceleration_rpm_s, torque_of(&t, units, o->inertia_n_m));
  ew_say(c->method.engine_inertia
             ? EW_TEXT("   the engine's own inertia takes %s: added back")
             : EW_TEXT("   the engine's own inertia takes %s: not added, as the method says"),
         torque_of(&t, units, o->engine_inertia_n_m));
  double observed =
      o->measured_n_m + o->inertia_n_m + (c->method.engine_inertia ? o->engine_inertia_n_m : 0);
  ew_say(" 5 observed torque %s", torque_of(&t, units, observed));
  ew_say(c->factor.in_range ? EW_TEXT(" 6 %s (%s): x %.5f")
                            : EW_TEXT(" 6 %s (%s): x %.5f, OUT OF ITS RANGE"),
         ew_tr(ew_standard_titles[c->method.standard]),
         ew_tr(ew_standard_references[c->method.standard]), c->factor.factor);
  ew_call_say_air(&c->conditions, e->again.pull.told, units);
  ew_say(" 7 corrected torque %s", torque_of(&t, units, o->torque_n_m));
  ew_say(" 8 uncertainty, standard:");
  for (gsize i = 0; i < b->count; i++)
    ew_say("   %-42s %10s%s", ew_tr(b->rows[i].from), torque_of(&t, units, b->rows[i].standard_n_m),
           b->rows[i].cancels ? ew_tr("  cancels in a comparison") : "");
  struct torques absolute, comparative;
  ew_say("   combined %s; expanded ± %s absolute, ± %s in a comparison",
         torque_of(&t, units, b->absolute_n_m), torque_of(&absolute, units, b->expanded_n_m),
         torque_of(&comparative, units, b->expanded_comparative_n_m));
  if (e->digest)
    ew_say(" 9 curve stored with SHA-256 %s", e->digest);
}

static void write_origin(const struct explaining *e, const struct ew_origin *o,
                         const struct ew_budget *b) {
  const struct ew_curve *c = g_ptr_array_index(e->processed->curves, e->part);
  struct ew_json json = ew_answer_begin();
  ew_differs_json(e->differs, &json);
  ew_json_text(&json, "recording", e->name);
  ew_json_text(&json, "sha256", e->sha256);
  ew_json_text(&json, "curve_sha256", e->digest);
  ew_json_number(&json, "speed_rpm", o->speed_rpm);
  ew_json_number(&json, "torque_n_m", o->torque_n_m);
  ew_json_number(&json, "power_w", o->power_w);
  ew_json_boolean(&json, "power_at_end", ew_curve_peak_is_at_end(c, c->power_w));
  ew_json_integer(&json, "samples", (gint64)o->samples);
  ew_json_integer(&json, "samples_touched", (gint64)o->touched);
  ew_json_number(&json, "first_s", o->first_s);
  ew_json_number(&json, "last_s", o->last_s);
  ew_json_number(&json, "measured_torque_n_m", o->measured_n_m);
  write_calibration(e, o, &json);
  write_sensors(e, &json);
  ew_json_number(&json, "acceleration_rpm_s", o->acceleration_rpm_s);
  ew_json_number(&json, "inertia_torque_n_m", o->inertia_n_m);
  ew_json_number(&json, "engine_inertia_torque_n_m", o->engine_inertia_n_m);
  ew_json_number(&json, "factor", c->factor.factor);
  ew_json_boolean(&json, "in_range", c->factor.in_range);
  ew_json_number(&json, "pressure_pa", c->conditions.pressure_pa);
  ew_json_number(&json, "temperature_k", c->conditions.temperature_k);
  ew_json_number(&json, "vapour_pressure_pa", c->conditions.vapour_pa);
  ew_json_open(&json, "method");
  ew_fields_write_json(&ew_method_fields, &c->method, &json);
  ew_json_close(&json);
  ew_json_open_array(&json, "uncertainty");
  for (gsize i = 0; i < b->count; i++) {
    ew_json_open(&json, NULL);
    ew_json_text(&json, "from", b->rows[i].from);
    ew_json_number(&json, "standard_n_m", b->rows[i].standard_n_m);
    ew_json_boolean(&json, "cancels_in_comparison", b->rows[i].cancels);
    ew_json_close(&json);
  }
  ew_json_close_array(&json);
  ew_json_number(&json, "expanded_n_m", b->expanded_n_m);
  ew_json_number(&json, "expanded_comparative_n_m", b->expanded_comparative_n_m);
  tell_around(e, &json);
  ew_answer_end(&json);
}

/* Every sample with its weight: what the file says at that time is what stands here, in SI. */
static gboolean write_samples(const char *path, const GArray *samples, const char *name,
                              gboolean torque, GError **error) {
  g_autoptr(GString) text = g_string_new(NULL);
  g_string_append_printf(text, "time_s,speed_rpm,%s,%sweight,touched\n", name,
                         torque ? "inertia_torque_n_m,engine_inertia_torque_n_m," : "");
  for (guint i = 0; i < samples->len; i++) {
    const struct ew_origin_sample *one = &g_array_index(samples, struct ew_origin_sample, i);
    double cells[] = {one->time_s,      one->speed_rpm,          one->value,
                      one->inertia_n_m, one->engine_inertia_n_m, one->weight};
    char buffer[EW_NUMBER_SIZE];
    for (gsize k = 0; k < G_N_ELEMENTS(cells); k++)
      if (torque || (k != 3 && k != 4))
        g_string_append_printf(text, "%s,", ew_number_write(cells[k], buffer));
    g_string_append_printf(text, "%d\n", one->speed_filled != 0);
  }
  g_autoptr(GError) problem = NULL;
  return g_file_set_contents(path, text->str, (gssize)text->len, &problem) ||
         ew_fail(error, "%s", problem->message);
}

static void span_of(const GArray *samples, double *first_s, double *last_s) {
  *first_s = INFINITY;
  *last_s = -INFINITY;
  for (guint i = 0; i < samples->len; i++) {
    const struct ew_origin_sample *one = &g_array_index(samples, struct ew_origin_sample, i);
    *first_s = fmin(*first_s, one->time_s);
    *last_s = fmax(*last_s, one->time_s);
  }
}

static void say_column(const struct ew_series_channel *c) {
  g_autofree char *why = ew_message_text(c->why, EW_UNITS_SI);
  if (c->lag_stated)
    ew_say(" 2 column '%s': %s; its sensor's lag of %g s, stated in the channel map, is taken out",
           c->name, why, c->lag_s);
  else
    ew_say(" 2 column '%s': %s; no lag of its sensor is stated, and none is taken", c->name, why);
}

/* At the point that the figure was explained at. */
static struct ew_figure_budget figure_budget_of(const struct explaining *e,
                                                const struct ew_figure_origin *o) {
  const struct ew_curve *c = g_ptr_array_index(e->processed->curves, e->part);
  gsize point = 0;
  while (point + 1 < c->points && c->speed_rpm[point] != o->speed_rpm)
    point++;
  return ew_figure_budget(e->facts.bench, e->facts.calibration, c, o->column, point,
                          EW_HOURS_SINCE_ZERO);
}

static void say_figure(const struct explaining *e, const struct ew_figure_origin *o,
                       enum ew_unit_system units) {
  const struct ew_curve *c = g_ptr_array_index(e->processed->curves, e->part);
  g_autofree char *value = ew_quantity_format(o->column->kind, units, o->value, 3);
  ew_say("%s %s at %#.0f rpm", o->column->key, value, o->speed_rpm);
  ew_say(" 1 recording %s, SHA-256 %s", e->name, e->sha256);
  if (o->formula) {
    ew_say(" 2 computed: %s", o->formula);
    char buffer[EW_NUMBER_SIZE];
    for (gsize i = 0; i < o->inputs_count; i++)
      ew_say("   %s %s", o->inputs[i].name, ew_number_write(o->inputs[i].value, buffer));
  } else
    say_column(o->channel);
  if (o->samples) {
    double first, last;
    span_of(o->samples, &first, &last);
    ew_say(" 3 samples: %u with weight, %.2f to %.2f s; %zu more were altered by cleaning and have "
           "no weight",
           o->samples->len, first, last, o->touched);
    ew_say(" 4 local regression over ±%#.0f rpm; no factor is applied to it",
           c->method.half_width_rpm);
  }
  tell_around(e, NULL);
  struct ew_figure_budget budget = figure_budget_of(e, o);
  ew_explain_say_doubt(&budget, o->column->kind, units);
}

static void write_figure(const struct explaining *e, const struct ew_figure_origin *o) {
  struct ew_json json = ew_answer_begin();
  ew_differs_json(e->differs, &json);
  ew_json_text(&json, "recording", e->name);
  ew_json_text(&json, "sha256", e->sha256);
  ew_json_text(&json, "curve_sha256", e->digest);
  ew_json_text(&json, "figure", o->column->key);
  ew_json_text(&json, "unit", ew_kind_si(o->column->kind));
  ew_json_number(&json, "speed_rpm", o->speed_rpm);
  ew_json_number(&json, "value", o->value);
  if (o->channel) {
    ew_json_text(&json, "column", o->channel->name);
    ew_message_write_member(o->channel->why, "because", EW_UNITS_SI, &json);
    ew_json_number(&json, "lag_s", o->channel->lag_s);
    ew_json_text(&json, "lag_from", ew_series_lag_from(o->channel));
  }
  if (o->samples) {
    double first, last;
    span_of(o->samples, &first, &last);
    ew_json_integer(&json, "samples", o->samples->len);
    ew_json_integer(&json, "samples_touched", (gint64)o->touched);
    ew_json_number(&json, "first_s", first);
    ew_json_number(&json, "last_s", last);
  }
  if (o->formula) {
    ew_json_text(&json, "formula", o->formula);
    ew_json_open(&json, "inputs");
    for (gsize i = 0; i < o->inputs_count; i++)
      ew_json_number(&json, o->inputs[i].name, o->inputs[i].value);
    ew_json_close(&json);
  }
  struct ew_figure_budget budget = figure_budget_of(e, o);
  ew_explain_write_doubt(&budget, &json);
  tell_around(e, &json);
  ew_answer_end(&json);
}

static gboolean explain_column(const struct ew_call *call, const struct explaining *e,
                               const char *figure, double speed, GError **error) {
  const char *path = ew_call_option(call, "samples");
  struct ew_figure_origin origin = {0};
  gboolean good =
      ew_explain_figure(e->processed, e->part, &e->facts, figure, speed, &origin, error);
  if (good && path && !origin.samples)
    good =
        origin.formula
            ? ew_refuse(error,
                        "--samples: %s has no samples of its own: it is computed; ask for a "
                        "figure it is computed from",
                        figure)
            : ew_refuse(error, "--samples: %s has no samples of its own: this pull is not a sweep",
                        figure);
  if (good && path) {
    g_autofree char *name =
        g_strconcat(origin.column->key, ew_kind_suffix(origin.column->kind), NULL);
    good = write_samples(path, origin.samples, name, FALSE, error);
  }
  if (good && call->json)
    write_figure(e, &origin);
  else if (good)
    say_figure(e, &origin, call->units);
  ew_figure_origin_clear(&origin);
  return good;
}

static gboolean explain_torque(const struct ew_call *call, struct ew_desk *desk,
                               const struct explaining *e, double speed, GError **error) {
  const char *path = ew_call_option(call, "samples");
  struct ew_origin origin;
  if (!ew_explain(e->processed, e->part, &e->facts, speed, &origin, error))
    return FALSE;
  if (path) {
    g_autoptr(GArray) samples =
        ew_explain_torque_samples(e->processed, e->part, &e->facts, speed, error);
    if (!samples || !write_samples(path, samples, "torque_n_m", TRUE, error))
      return FALSE;
  }
  struct ew_budget budget = budget_of(desk, e, &origin);
  if (call->json)
    write_origin(e, &origin, &budget);
  else
    say_origin(e, &origin, &budget, call->units);
  return TRUE;
}

static gboolean run_explain(const struct ew_call *call, GError **error) {
  const char *figure = ew_call_option(call, "figure"), *path = ew_call_option(call, "samples");
  if (path && !ew_call_place(path, error))
    return FALSE;
  struct ew_desk desk = {0};
  g_autoptr(ew_book) book = NULL;
  struct explaining e = {0};
  double speed;
  gboolean good = ew_call_open_desk(call, &book, &desk, error) &&
                  ew_call_quantity(call, "speed", EW_KIND_ROTATIONAL_SPEED, NAN, &speed, error) &&
                  begin_explaining(call, &desk, &e, error);
  if (good && isnan(speed)) {
    const struct ew_curve *c = g_ptr_array_index(e.processed->curves, e.part);
    speed = c->speed_rpm[ew_curve_peak(c, c->power_w)];
  }
  if (good && figure && strcmp(figure, "torque") != 0)
    good = explain_column(call, &e, figure, speed, error);
  else if (good)
    good = explain_torque(call, &desk, &e, speed, error);
  if (good && e.differs && !call->json) {
    g_autoptr(GPtrArray) cautions = ew_messages_new();
    ew_messages_add(cautions, ew_message(&ew_pull_altered, ew_say_messages("changes", e.differs)));
    ew_say_cautions(cautions, call->units);
  }
  end_explaining(&e);
  ew_desk_clear(&desk);
  return good;
}
const struct ew_command ew_command_pull_explain = {
    .name = "pull explain",
    .summary = EW_TEXT("One figure traced back to its samples, factor, method and uncertainty"),
    .takes = EW_TEXT("PULL|FILE"),
    .least = 1,
    .most = 1,
    .options = explain_options,
    .run = run_explain,
    .examples =
        "pull explain 12 --speed \"6000 rpm\"\npull explain run-07.csv --speed \"5500 "
        "rpm\" --json\npull explain 12 --speed \"5000 rpm\" --figure oil_pressure --samples "
        "oil.csv"};
