/* The tables that engine predict prints. */
#include "base/error.h"
#include "base/number.h"
#include "base/words.h"
#include "cli/predict_said.h"
#include <math.h>

static void say_why(const struct ew_cycle_result *r, enum ew_unit_system units) {
  g_autoptr(ew_message) why = ew_cycle_why_not(r);
  g_autofree char *text = why ? ew_message_text(why, units) : NULL;
  if (text)
    ew_say("        %s", text);
}

void ew_say_prediction(const struct ew_cycle_result *r, int count,
                       const struct ew_cycle_effort *effort, const GPtrArray *notes,
                       enum ew_unit_system units) {
  ew_say("%7s %9s %8s %6s %7s %9s %8s %8s %7s %8s",
         ew_kind_shown(EW_KIND_ROTATIONAL_SPEED, EW_UNITS_SI), ew_kind_shown(EW_KIND_TORQUE, units),
         ew_kind_shown(EW_KIND_POWER, units), "VE", ew_kind_shown(EW_KIND_SPECIFIC_FUEL, units),
         ew_tr("residual"), ew_tr("peak bar"), ew_tr("spark"), "CA50", ew_tr("knock"));
  gboolean held = FALSE;
  for (int i = 0; i < count; i++) {
    ew_say(
        r[i].converged
            ? EW_TEXT("%7.0f %9.0f %8.1f %6.2f %7.3g %7.1f %% %8.0f %7.1f%s %7.1f %8.2f")
            : EW_TEXT("%7.0f %9.0f %8.1f %6.2f %7.3g %7.1f %% %8.0f %7.1f%s %7.1f %8.2f  DID NOT "
                      "CONVERGE"),
        r[i].speed_rpm, ew_shown(EW_KIND_TORQUE, units, r[i].torque_n_m),
        ew_shown(EW_KIND_POWER, units, r[i].power_w), r[i].volumetric_efficiency,
        ew_shown(EW_KIND_SPECIFIC_FUEL, units, r[i].bsfc_kg_j), 100 * r[i].residual_fraction,
        r[i].peak_pressure_pa / 1e5, r[i].spark_deg, r[i].knock_limited ? "k" : " ", r[i].ca50_deg,
        r[i].knock);
    held |= r[i].knock_limited;
    if (!r[i].converged)
      say_why(&r[i], units);
  }
  if (held)
    ew_say("k: spark held back by the knock integral.");
  ew_say("spark: deg BTDC; CA50: deg ATDC at which half the fuel is burnt; knock: 1 is the limit, "
         "a ranking only: prove spark on the dyno, from the safe side");
  ew_say("speeds: %d, in %.1f s", count, effort->wall_s);
  for (guint i = 0; i < notes->len; i++) {
    g_autofree char *text = ew_message_text(notes->pdata[i], units);
    if (ew_message_severity(notes->pdata[i]) == EW_NOTE)
      ew_say("assumed: %s", text);
    else
      ew_say("caution: %s", text);
  }
}

void ew_say_energy(const struct ew_cycle_result *r, int count, enum ew_unit_system units) {
  ew_say("\n%7s %8s %9s %8s %8s %9s %8s %10s %12s",
         ew_kind_shown(EW_KIND_ROTATIONAL_SPEED, EW_UNITS_SI), ew_tr("brake"), ew_tr("friction"),
         ew_tr("pumping"), ew_tr("walls"), ew_tr("unburnt"), ew_tr("exhaust"), ew_tr("bar/deg"),
         ew_tr("exhaust reads"));
  for (int i = 0; i < count; i++) {
    const struct ew_cycle_energy *e = &r[i].energy;
    g_autofree char *reads =
        ew_quantity_format(EW_KIND_TEMPERATURE, units, r[i].exhaust_reading_k, 0);
    ew_say("%7.0f %6.1f %% %7.1f %% %6.1f %% %6.1f %% %7.1f %% %6.1f %% %10.1f %12s",
           r[i].speed_rpm, 100 * e->brake, 100 * e->friction, 100 * e->pumping, 100 * e->walls,
           100 * e->unburned, 100 * e->exhaust, r[i].pressure_rise_pa_deg / 1e5, reads);
  }
  ew_say(
      "shares of the fuel's heating value; exhaust: gas and pipes; bar/deg: the steepest pressure "
      "rise; the exhaust reading is that of a 3 mm thermocouple 100 mm after the valve");
}

void ew_say_doubt(const struct ew_prediction_setup *setup, const double *speed_rpm,
                  const struct ew_doubt *d, enum ew_unit_system units) {
  ew_say("\n%7s %18s", ew_kind_shown(EW_KIND_ROTATIONAL_SPEED, EW_UNITS_SI),
         ew_tr("torque, ± at 95 %"));
  for (int i = 0; i < d->speeds; i++)
    ew_say("%7.0f %9.1f ± %5.1f %s", speed_rpm[i],
           ew_shown(EW_KIND_TORQUE, units, d->torque_n_m[i]),
           ew_shown(EW_KIND_TORQUE, units, 2 * d->torque_u_n_m[i]),
           ew_kind_shown(EW_KIND_TORQUE, units));
  ew_say("%s", ew_tr(ew_doubt_says(setup)->text));
  for (int i = 0; i < d->narrowings; i++)
    ew_say(i ? EW_TEXT("           measuring %s would remove %.0f %% of the variance")
             : EW_TEXT("narrow it: measuring %s would remove %.0f %% of the variance"),
           d->narrow[i].field, 100 * d->narrow[i].variance_share);
}

static void say_ratio_curves(const struct ew_ratio_answer *a, const double *speed_rpm,
                             enum ew_unit_system units) {
  g_autofree char *now = ew_words("at %.1f", a->ratio), *other = ew_words("at %.1f", a->other);
  g_autofree char *held = ew_words("%.1f, spark of %.1f", a->ratio, a->other);
  ew_say("%7s %10s %10s %22s  %s", "rpm", now, other, held, ew_kind_shown(EW_KIND_TORQUE, units));
  for (int i = 0; i < a->speeds; i++)
    ew_say("%7.0f %10.1f %10.1f %22.1f", speed_rpm[i],
           ew_shown(EW_KIND_TORQUE, units, a->now_n_m[i]),
           ew_shown(EW_KIND_TORQUE, units, a->other_n_m[i]),
           ew_shown(EW_KIND_TORQUE, units, a->held_n_m[i]));
}

void ew_say_ratio(const struct ew_ratio_answer *a, const double *speed_rpm,
                  enum ew_unit_system units) {
  const struct ew_compression_advice *to = &a->advice;
  if (isnan(a->effective))
    ew_say("\ncompression %.1f; its effective ratio is not known: give both durations of the inlet "
           "and its place",
           a->ratio);
  else
    ew_say("\ncompression %.1f, effective %.1f with the inlet closing %.0f deg after bottom dead "
           "centre",
           a->ratio, a->effective, a->closes_abdc_deg);
  if (!isnan(to->fuel_edge_ratio) && !isnan(to->fuel_easy_ratio))
    ew_say("this fuel stands %.1f easily, %.1f at the edge (ranking only: prove it from the safe "
           "side)",
           to->fuel_easy_ratio, to->fuel_edge_ratio);
  if (!isnan(to->cam_low_ratio))
    ew_say("this cam wants %.1f to %.1f on petrol (common practice, no source)", to->cam_low_ratio,
           to->cam_high_ratio);
  if (!isnan(to->closes_early_deg) && !isnan(to->closes_late_deg))
    ew_say("this ratio wants an inlet that closes %.0f to %.0f deg after bottom dead centre",
           to->closes_early_deg, to->closes_late_deg);
  say_ratio_curves(a, speed_rpm, units);
  const char *unit = ew_kind_shown(EW_KIND_TORQUE, units);
  ew_say("%.1f instead of %.1f: %+.1f ± %.1f %s up to %.0f rpm, %+.1f ± %.1f %s above; octane "
         "needed %.0f, "
         "now %.0f",
         a->other, a->ratio, ew_shown(EW_KIND_TORQUE, units, a->lower),
         ew_shown(EW_KIND_TORQUE, units, 2 * a->lower_u), unit, a->middle_rpm,
         ew_shown(EW_KIND_TORQUE, units, a->upper), ew_shown(EW_KIND_TORQUE, units, 2 * a->upper_u),
         unit, a->octane_other, a->octane_now);
  if (!isnan(a->by_spark))
    ew_say("spark of its own brings back %.0f %% of what %.1f would lose at the spark of %.1f",
           100 * a->by_spark, a->ratio, a->other);
}

void ew_say_tuned(struct ew_tuned *t, const double *speed_rpm, const double *torque_n_m,
                  int count) {
  ew_say("%-13s %8s %8s", ew_tr("knob"), ew_tr("factor"), "±");
  for (int k = 0; k < EW_TUNE_COUNT; k++)
    if (!isnan(*ew_tune_uncertainty(&t->tune, k)))
      ew_say("%-13s %8.3f %8.3f", ew_tune_names[k], *ew_tune_factor(&t->tune, k),
             2 * *ew_tune_uncertainty(&t->tune, k));
  ew_say("\n%7s %10s %10s", ew_kind_shown(EW_KIND_ROTATIONAL_SPEED, EW_UNITS_SI), ew_tr("measured"),
         ew_tr("left, %"));
  for (int i = 0; i < count; i++)
    ew_say("%7.0f %10.1f %+10.1f", speed_rpm[i], torque_n_m[i], 100 * t->residual[i]);
  ew_say("torque error, root mean square: %.1f %% before, %.1f %% after; largest left %.1f %%; %d "
         "runs",
         100 * t->error_before, 100 * t->error_after, 100 * t->worst_after, t->evaluations);
  g_autoptr(GPtrArray) cautions = ew_tuned_cautions(t);
  ew_say_cautions(cautions, EW_UNITS_SI);
}

void ew_say_variants(const struct ew_variants *v) {
  g_autofree char *below = ew_words("to %#.0f rpm", v->middle_rpm),
                  *above = ew_words("%#.0f rpm on", v->middle_rpm);
  int wide = 20;
  for (guint i = 0; i < v->count; i++)
    wide = MAX(wide, (int)g_utf8_strlen(v->variant[i].says, -1));
  ew_say("%-*s %18s %18s %10s", wide, ew_tr("change"), below, above, ew_tr("octane"));
  for (guint i = 0; i < v->count; i++) {
    const struct ew_variant *one = &v->variant[i];
    ew_say("%s%*s %+8.1f ± %4.1f N·m %+8.1f ± %4.1f N·m %10.0f%s", one->says,
           wide - (int)g_utf8_strlen(one->says, -1), "", one->lower, 2 * one->lower_u, one->upper,
           2 * one->upper_u, one->octane,
           !one->converged ? ew_tr("  DID NOT CONVERGE")
           : one->beyond   ? ew_tr("  beyond --most-octane")
                           : "");
  }
  ew_say(
      "Mean torque compared with the engine as it is, at the speeds up to %#.0f rpm and above; ± "
      "at 95 %%: the fit's knobs, a quarter of the difference for the model (rule of thumb), "
      "and what its cells and tolerance leave.",
      v->middle_rpm);
  ew_say("octane: what the knock integral needs, as anti-knock index (mean of research and motor "
         "numbers), ± 3 to 4; a ranking only: prove it from the safe side.");
}

/* What a file of kept answers gave, and what in it was left alone. */
void ew_say_kept(const struct ew_variants *v) {
  const struct ew_kept_counts *k = &v->kept;
  ew_say("Kept before and taken: %" G_GINT64_FORMAT " of %u.", k->taken, v->count);
  if (k->older > 0)
    ew_say("Records of other physics, ignored: %" G_GINT64_FORMAT ".", k->older);
  if (k->damaged > 0 || k->torn)
    ew_say("Damaged records, ignored: %" G_GINT64_FORMAT ".", k->damaged + k->torn);
}

gboolean ew_write_trace(const char *path, const struct ew_cycle_trace *t, GError **error) {
  GString *text = g_string_new("crank_deg");
  char buffer[EW_NUMBER_SIZE];
  for (int s = 0; s < t->series; s++)
    g_string_append_printf(text, ",%s [%s]", t->name[s], t->unit[s]);
  g_string_append_c(text, '\n');
  for (int i = 0; i < 720; i++) {
    g_string_append_printf(text, "%d", i);
    for (int s = 0; s < t->series; s++)
      g_string_append_printf(text, ",%s", ew_number_write(t->value[s][i], buffer));
    g_string_append_c(text, '\n');
  }
  g_autoptr(GError) problem = NULL;
  gboolean good = g_file_set_contents(path, text->str, (gssize)text->len, &problem) ||
                  ew_fail(error, "%s", problem->message);
  g_string_free(text, TRUE);
  return good;
}
