/* What the two pages of a prediction are handed. See predict_plot.h. */
#include "cli/predict_plot.h"
#include "base/error.h"
#include "base/language.h"
#include "base/number.h"
#include "base/words.h"
#include "desk/loaded.h"
#include "desk/predict_inside.h"
#include "desk/when.h"
#include "sheet/inside_sheet.h"
#include <math.h>
#include <string.h>

/* ---- what is asked ---- */

static gboolean read_measured(const struct ew_call *call, struct ew_predict_plot *plot,
                              GError **error) {
  const char *what = ew_call_option(call, "measured");
  if (!what)
    return TRUE;
  GError *problem = NULL;
  g_autoptr(ew_book) book = ew_call_book(call, FALSE, FALSE, &problem);
  if (problem) {
    g_propagate_error(error, problem);
    return FALSE;
  }
  struct ew_desk desk = {0};
  plot->measured = g_ptr_array_new_with_free_func((GDestroyNotify)ew_loaded_free);
  gboolean good =
      ew_desk_open(&desk, book, error) && ew_desk_load(&desk, what, plot->measured, error);
  ew_desk_clear(&desk);
  return good;
}

static gboolean read_paper(const struct ew_call *call, struct ew_predict_plot *plot,
                           GError **error) {
  const char *paper = ew_call_option(call, "paper");
  if (paper && strcmp(paper, "a4") && strcmp(paper, "letter"))
    return ew_refuse(error, "--paper '%s' is neither a4 nor letter", paper);
  plot->paper = paper && strcmp(paper, "letter") == 0 ? EW_PAPER_LETTER : EW_PAPER_A4;
  return TRUE;
}

gboolean ew_predict_plot_read(const struct ew_call *call, struct ew_predict_plot *plot,
                              GError **error) {
  static const char *const goes_with[] = {"at", "measured", "paper"};
  *plot = (struct ew_predict_plot){.path = ew_call_option(call, "plot"), .at_rpm = NAN};
  for (gsize i = 0; !plot->path && i < G_N_ELEMENTS(goes_with); i++)
    if (ew_call_has(call, goes_with[i]))
      return ew_refuse(error, "--%s goes with --plot FILE", goes_with[i]);
  if (!plot->path)
    return TRUE;
  if (!ew_format_of(plot->path, FALSE, &plot->format))
    return ew_refuse(error, "--plot '%s': the name must end with .pdf, .svg or .png", plot->path);
  if (!ew_call_place(plot->path, error) ||
      !ew_call_quantity(call, "at", EW_KIND_ROTATIONAL_SPEED, NAN, &plot->at_rpm, error))
    return FALSE;
  if (plot->at_rpm < 300 || plot->at_rpm > 25000)
    return ew_refuse(error, "--at: %.0f rpm is outside 300 to 25,000 rpm", plot->at_rpm);
  return read_paper(call, plot, error) && read_measured(call, plot, error);
}

void ew_predict_plot_clear(struct ew_predict_plot *plot) {
  g_clear_pointer(&plot->measured, g_ptr_array_unref);
}

/* ---- what is drawn ---- */

/* Where power is highest; of runs that have settled, where there are any. */
static double speed_of_power(const struct ew_predict_drawn *d) {
  int best = -1;
  for (int settled = 1; settled >= 0 && best < 0; settled--)
    for (int i = 0; i < d->count; i++)
      if ((d->results[i].converged || !settled) && isfinite(d->results[i].power_w) &&
          (best < 0 || d->results[i].power_w > d->results[best].power_w))
        best = i;
  return d->speed_rpm[best < 0 ? d->count - 1 : best];
}

static char *bar_of(double pa, enum ew_unit_system units) {
  return ew_quantity_format(EW_KIND_MEAN_EFFECTIVE_PRESSURE, units, pa,
                            units == EW_UNITS_SI ? 1 : 0);
}

static char *about_of(const struct ew_cycle_result *r, enum ew_unit_system units) {
  g_autofree char *peak = bar_of(r->peak_pressure_pa, units), *imep = bar_of(r->imep_pa, units),
                  *pmep = bar_of(r->pmep_pa, units), *rise = bar_of(r->pressure_rise_pa_deg, units);
  const char *held = !r->converged      ? ew_tr(" This run has not settled: read it as a sketch.")
                     : r->knock_limited ? ew_tr(" Knock holds the spark back.")
                                        : "";
  return ew_words("Spark %.1f° before top dead centre; 10, 50 and 90 %% burned at %.0f, %.0f and "
                  "%.0f°; highest pressure %s at %.0f°, steepest rise %s a degree. Net mean "
                  "effective pressure %s, of it gas exchange %s.%s",
                  r->spark_deg, r->ca10_deg, r->ca50_deg, r->ca90_deg, peak, r->peak_deg, rise,
                  imep, pmep, held);
}

static GPtrArray *lines_of(const struct ew_predict_plot *plot, const struct ew_predict_drawn *d,
                           enum ew_unit_system units) {
  GPtrArray *lines = g_ptr_array_new_with_free_func(g_free);
  if (plot->measured)
    g_ptr_array_add(lines, g_strdup(ew_tr("Measured torque is corrected by its pull's standard; "
                                          "the prediction runs in the air it was asked for.")));
  if (d->doubt->torque_u_n_m)
    g_ptr_array_add(lines, ew_words("Band: %s.", ew_tr(ew_doubt_says(d->setup)->text)));
  for (int i = 0; i < d->doubt->narrowings; i++)
    g_ptr_array_add(lines,
                    ew_words("Measuring %s would remove %.0f %% of the variance.",
                             d->doubt->narrow[i].field, 100 * d->doubt->narrow[i].variance_share));
  for (guint i = 0; i < d->notes->len; i++) {
    g_autofree char *text = ew_message_text(d->notes->pdata[i], units);
    gboolean note = ew_message_severity(d->notes->pdata[i]) == EW_NOTE;
    g_ptr_array_add(lines, note ? ew_words("Assumed: %s", text) : ew_words("Caution: %s", text));
  }
  return lines;
}

static void take_inside(struct ew_inside_paper *s, const struct ew_inside *in) {
  s->degrees = EW_INSIDE_DEGREES;
  s->angle_deg = in->angle_deg;
  s->cylinder_pa = in->line[EW_INSIDE_CYLINDER];
  s->volume_m3 = in->line[EW_INSIDE_VOLUME];
  s->burned = in->line[EW_INSIDE_BURNED];
  s->inlet_port_pa = in->line[EW_INSIDE_INLET_PORT];
  s->inlet_far_pa = in->line[EW_INSIDE_INLET_FAR];
  s->exhaust_port_pa = in->line[EW_INSIDE_EXHAUST_PORT];
  s->exhaust_far_pa = in->line[EW_INSIDE_EXHAUST_FAR];
  for (int side = 0; side < 2; side++) {
    s->opens_deg[side] = in->opens_deg[side];
    s->closes_deg[side] = in->closes_deg[side];
  }
}

static gboolean draw(const struct ew_predict_plot *plot, const struct ew_predict_drawn *d,
                     const struct ew_cycle_result *run, const struct ew_inside *inside,
                     enum ew_unit_system units, GError **error) {
  const struct ew_loaded *m = plot->measured ? g_ptr_array_index(plot->measured, 0) : NULL;
  g_autofree double *torque = g_new(double, d->count), *expanded = g_new(double, d->count);
  for (int i = 0; i < d->count; i++) {
    torque[i] = d->results[i].torque_n_m;
    expanded[i] = d->doubt->torque_u_n_m ? 2 * d->doubt->torque_u_n_m[i] : 0;
  }
  const char *name = d->setup->engine->name;
  g_autofree char *title = ew_words("Predicted: %s", name ? name : ew_tr("engine")),
                  *stamp = ew_time_now(), *at = ew_number_thousands(run->speed_rpm),
                  *heading = ew_words("Inside cylinder %d at %s rpm", inside->cylinder + 1, at),
                  *about = about_of(run, units),
                  *label = m ? ew_words("measured: %s", m->name) : NULL;
  g_autoptr(GPtrArray) lines = lines_of(plot, d, units);
  struct ew_inside_paper s = {
      .title = title,
      .stamp = stamp,
      .units = units,
      .speeds = (gsize)d->count,
      .speed_rpm = d->speed_rpm,
      .torque_n_m = torque,
      .expanded_n_m = d->doubt->torque_u_n_m ? expanded : NULL,
      .measured = m ? m->curve->points : 0,
      .measured_rpm = m ? m->curve->speed_rpm : NULL,
      .measured_n_m = m ? m->curve->torque_n_m : NULL,
      .measured_label = label,
      .lines = lines,
      .caution = ew_tr("Predicted, not measured. A predicted knock limit ranks combinations; it "
                       "does not permit a spark, mixture or speed on a real engine. The axis of "
                       "torque does not begin at zero."),
      .heading = heading,
      .about = about};
  take_inside(&s, inside);
  return ew_inside_paper_draw(&s, plot->path, plot->format, plot->paper, error);
}

gboolean ew_predict_plot_draw(const struct ew_predict_plot *plot, const struct ew_predict_drawn *d,
                              enum ew_unit_system units, GError **error) {
  double at = isnan(plot->at_rpm) ? speed_of_power(d) : plot->at_rpm;
  struct ew_cycle_options options = *d->options;
  struct ew_cycle_result run;
  struct ew_inside *inside = g_new(struct ew_inside, 1);
  options.progress = NULL;
  gboolean good = ew_predict_inside(d->setup, at, &options, &run, inside, error);
  if (good) {
    good = draw(plot, d, &run, inside, units, error);
    ew_cycle_result_clear(&run);
  }
  g_free(inside);
  return good;
}
