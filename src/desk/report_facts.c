/* The facts at the head of a test report. They are read from the curves and set-ups of the pulls themselves, not from what the
 * cell's file says today. */
#include "desk/report_parts.h"
#include "base/language.h"
#include "base/words.h"
#include <math.h>
#include <string.h>

/* What a customer has no use for stands in the appendix. */
static gboolean is_of_shop(const char *label) {
  static const char *const labels[] = {"pulls", "cell", "not fitted", NULL};
  return g_strv_contains(labels, label);
}

void ew_report_pair_add(GArray *pairs, const char *label, char *value) {
  if (!value || !*value) {
    g_free(value);
    return;
  }
  struct ew_report_pair pair = {g_strdup(label), value, is_of_shop(label)};
  g_array_append_val(pairs, pair);
}

static char *air_text(const struct ew_curve *c, enum ew_unit_system units) {
  const struct ew_conditions *k = &c->conditions;
  g_autofree char *pressure =
      ew_quantity_format(EW_KIND_PRESSURE_ABSOLUTE, units, k->pressure_pa, units ? 2 : 1);
  g_autofree char *temperature =
      ew_quantity_format(EW_KIND_TEMPERATURE, units, k->temperature_k, 1);
  g_autofree char *vapour =
      ew_quantity_format(EW_KIND_PRESSURE_ABSOLUTE, units, k->vapour_pa, units ? 3 : 1);
  return ew_words("%s, %s, vapour %s", pressure, temperature, vapour);
}

/* By the shop's clock, with its offset. */
static char *day_text(const struct ew_desk *desk, const GPtrArray *pulls) {
  g_assert(pulls->len > 0);
  const struct ew_loaded *first = g_ptr_array_index(pulls, 0),
                         *last = g_ptr_array_index(pulls, pulls->len - 1);
  if (!first->row.at)
    return NULL;
  GTimeZone *zone = ew_book_zone(desk->book, NULL);
  if (!zone)
    return NULL;
  g_autofree char *from = ew_zone_show(zone, first->row.at), *to = ew_zone_show(zone, last->row.at),
                  *day = ew_sheet_day(from), *to_day = ew_sheet_day(to);
  if (strlen(from) < 22 || strlen(to) < 22)
    return NULL;
  return strcmp(day, to_day) == 0
             ? ew_words("%s, %.5s to %.5s (%s)", day, from + 11, to + 11, strrchr(to, ' ') + 1)
             : ew_words("%s, %.5s to %s, %.5s (%s)", day, from + 11, to_day, to + 11,
                        strrchr(to, ' ') + 1);
}

static char *names_text(const GPtrArray *pulls) {
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_loaded *l = g_ptr_array_index(pulls, i);
    g_string_append_printf(text, "%s%" G_GINT64_FORMAT, i ? ", " : "", l->id);
  }
  return g_string_free(text, FALSE);
}

static char *setup_text(const struct ew_setup *setup, enum ew_unit_system units) {
  GString *text = g_string_new(NULL);
  for (gsize i = 0; i < ew_setup_fields.count; i++) {
    const struct ew_field *field = &ew_setup_fields.fields[i];
    g_autofree char *value = ew_setup_is_condition(field) || strcmp(field->name, "equipment") == 0
                                 ? NULL
                                 : ew_field_show(field, setup, units);
    g_autofree char *name = g_strdelimit(g_strdup(field->name), "_", ' ');
    if (value)
      g_string_append_printf(text, "%s%s %s", text->len ? ", " : "", ew_tr(name), value);
  }
  g_strdelimit(text->str, "_", ' ');
  if (!text->len || !isnan(setup->spark_measured_deg) || isnan(setup->spark_deg))
    return g_string_free(text, FALSE);
  g_autofree char *unchecked = g_string_free(text, FALSE);
  return ew_words("%s (spark not checked with a light)", unchecked);
}

static gboolean any_above_zero(const double *values, gsize n) {
  for (gsize i = 0; i < n; i++)
    if (values[i] != 0)
      return TRUE;
  return FALSE;
}

/* What was added back in these curves: not what the cell's file says today. */
static char *sweep_text(const GPtrArray *pulls) {
  const struct ew_curve *last =
      ((struct ew_loaded *)g_ptr_array_index(pulls, pulls->len - 1))->curve;
  guint brake = 0, engine = 0;
  for (guint i = 0; i < pulls->len; i++) {
    const struct ew_curve *c = ((struct ew_loaded *)g_ptr_array_index(pulls, i))->curve;
    brake += any_above_zero(c->inertia_n_m, c->points);
    engine += c->method.engine_inertia && any_above_zero(c->engine_inertia_n_m, c->points);
  }
  g_assert(brake <= pulls->len && engine <= pulls->len);
  const char *of_brake =
      brake == pulls->len
          ? EW_TEXT("sweep at %#.0f rpm/s; inertia of rotor and coupling added back")
      : brake ? EW_TEXT("sweep at %#.0f rpm/s; inertia of rotor and coupling added back in "
                        "some of the pulls only")
              : EW_TEXT("sweep at %#.0f rpm/s; inertia of rotor and coupling not stated and "
                        "not added back");
  const char *of_engine = engine == pulls->len ? EW_TEXT("the engine's inertia added back too")
                          : engine
                              ? EW_TEXT("the engine's inertia added back in some of the pulls only")
                              : EW_TEXT("the engine's inertia not added back");
  g_autofree char *sweep = ew_words(of_brake, last->conditions.acceleration_rpm_s);
  return brake || engine ? g_strdup_printf("%s; %s", sweep, ew_tr(of_engine))
                         : g_steal_pointer(&sweep);
}

/* What this cell never records, said once; NULL: nothing. */
static char *not_fitted_text(const struct ew_bench *bench) {
  GString *text = g_string_new(NULL);
  for (int i = 0; i < EW_CHANNELS_COUNT; i++)
    if (ew_bench_lacks(bench, (enum ew_channel)i))
      g_string_append_printf(text, "%s%s", text->len ? ", " : "", ew_tr(ew_channel_facts[i].label));
  return g_string_free(text, text->len == 0);
}

void ew_report_facts(struct ew_report *r, const struct ew_desk *desk, const GPtrArray *pulls) {
  g_assert(pulls->len > 0 && r->facts->len == 0);
  const struct ew_loaded *last = g_ptr_array_index(pulls, pulls->len - 1);
  const struct ew_engine *e = &last->engine;
  const struct ew_curve *c = last->curve;
  double displacement = ew_engine_displacement_m3(e);
  ew_report_pair_add(r->facts, EW_TEXT("engine"), g_strdup(e->name));
  ew_report_pair_add(r->facts, EW_TEXT("serial"), g_strdup(e->serial));
  ew_report_pair_add(r->facts, EW_TEXT("for"), g_strdup(e->owner));
  if (!isnan(displacement))
    ew_report_pair_add(
        r->facts, EW_TEXT("displacement"),
        ew_quantity_format(EW_KIND_VOLUME, r->units, displacement, r->units ? 1 : 0));
  ew_report_pair_add(r->facts, EW_TEXT("fuel"),
                     g_strdup(ew_tr(last->setup.fuel ? last->setup.fuel
                                    : e->fuel        ? e->fuel
                                                     : "")));
  const char *equipment = last->setup.equipment ? last->setup.equipment : e->equipment;
  ew_report_pair_add(r->facts, EW_TEXT("equipment fitted"),
                     g_strdup(equipment ? equipment : ew_tr("not stated")));
  ew_report_pair_add(r->facts, EW_TEXT("set-up"), setup_text(&last->setup, r->units));
  ew_report_pair_add(r->facts, EW_TEXT("pulls"), names_text(pulls));
  ew_report_pair_add(r->facts, EW_TEXT("when"), day_text(desk, pulls));
  ew_report_pair_add(r->facts, EW_TEXT("cell"), g_strdup(desk->bench.name));
  ew_report_pair_add(r->facts, EW_TEXT("not fitted"), not_fitted_text(&desk->bench));
  ew_report_pair_add(r->facts, EW_TEXT("inlet air"), air_text(c, r->units));
  ew_report_pair_add(r->facts, EW_TEXT("factor"),
                     ew_words(ew_curve_corrected(c) == EW_UNCORRECTED
                                  ? EW_TEXT("%s (%s) NOT APPLIED, as observed: %.4f")
                              : c->factor.in_range
                                  ? EW_TEXT("%s applied (%s): %.4f")
                                  : EW_TEXT("%s applied (%s): %.4f, OUT OF ITS RANGE"),
                              ew_tr(ew_standard_titles[c->method.standard]),
                              ew_tr(ew_standard_references[c->method.standard]), c->factor.factor));
  if (c->kind == EW_SEGMENT_SWEEP)
    ew_report_pair_add(r->facts, EW_TEXT("kind of test"), sweep_text(pulls));
  else
    ew_report_pair_add(r->facts, EW_TEXT("kind of test"), g_strdup(ew_tr("steady points")));
}
