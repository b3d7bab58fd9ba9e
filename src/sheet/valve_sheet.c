/* Valve events on a circle, lift over the crank, and valve-to-piston clearance through the overlap. */
#include "engine/check.h"
#include "base/words.h"
#include "engine/slider_crank.h"
#include "engine/valve_clearance.h"
#include "sheet/build_sheet.h"
#include "base/language.h"
#include "sheet/plot.h"
#include <math.h>

#define UNDER_PLOTS 220.0 /* headings and axes of both, what is said under them, the caution */
#define POINTS      481

static const struct ew_ink *ink_of(int side) {
  return side ? &ew_ochre : &ew_blue;
}

/* Clockwise from top dead centre. */
static void at_angle(double cx, double cy, double radius, double deg, double *x, double *y) {
  *x = cx + radius * sin(deg * G_PI / 180);
  *y = cy - radius * cos(deg * G_PI / 180);
}

static void draw_arc(struct ew_pages *p, double cx, double cy, double radius, double from_deg,
                     double to_deg, int side, const char *opens, const char *closes) {
  double x, y;
  ew_ink_set(p, *ink_of(side), 1);
  cairo_set_line_width(p->cairo, side ? 7 : 9);
  if (side) {
    double dash[] = {9, 3};
    cairo_set_dash(p->cairo, dash, 2, 0);
  }
  cairo_new_path(p->cairo);
  int steps = (int)ceil(to_deg - from_deg);
  for (int i = 0; i <= steps; i++) {
    at_angle(cx, cy, radius, from_deg + (to_deg - from_deg) * i / steps, &x, &y);
    cairo_line_to(p->cairo, x, y);
  }
  cairo_stroke(p->cairo);
  cairo_set_dash(p->cairo, NULL, 0, 0);
  const struct {
    double angle;
    const char *text;
  } ends[] = {{from_deg, opens}, {to_deg, closes}};
  for (int k = 0; k < 2; k++) {
    double tx, ty;
    at_angle(cx, cy, radius - 7, ends[k].angle, &x, &y);
    at_angle(cx, cy, 88, ends[k].angle, &tx, &ty);
    ew_line(p, x, y, tx, ty, 0.6, *ink_of(side));
    at_angle(cx, cy, 92, ends[k].angle, &tx, &ty);
    gboolean left = tx < cx;
    ew_text(p, tx + (left ? -2 : 2), ty - 5, 0, 8, FALSE, left ? EW_RIGHT : EW_LEFT, *ink_of(side),
            ends[k].text);
  }
}

static void draw_circle(struct ew_flow *flow, const struct ew_valve_events *v) {
  struct ew_pages *p = &flow->pages;
  double cx = p->width / 2, cy = flow->y + 112;
  ew_line(p, cx, cy - 84, cx, cy + 84, 0.5, ew_grey);
  ew_line(p, cx - 84, cy, cx + 84, cy, 0.3, ew_pale);
  ew_text(p, cx, cy - 106, 0, 8, TRUE, EW_CENTRE, ew_black, ew_tr("top dead centre"));
  ew_text(p, cx, cy + 96, 0, 8, TRUE, EW_CENTRE, ew_black, ew_tr("bottom dead centre"));
  g_autofree char *ivo = ew_words(v->inlet_opens_btdc_deg >= 0 ? EW_TEXT("inlet opens %.0f° before")
                                                               : EW_TEXT("inlet opens %.0f° after"),
                                  fabs(v->inlet_opens_btdc_deg)),
                  *ivc = ew_words("inlet closes %.0f° after", v->inlet_closes_abdc_deg),
                  *evo = ew_words("exhaust opens %.0f° before", v->exhaust_opens_bbdc_deg),
                  *evc = ew_words(v->exhaust_closes_atdc_deg >= 0
                                      ? EW_TEXT("exhaust closes %.0f° after")
                                      : EW_TEXT("exhaust closes %.0f° before"),
                                  fabs(v->exhaust_closes_atdc_deg));
  draw_arc(p, cx, cy, 70, -v->inlet_opens_btdc_deg, 180 + v->inlet_closes_abdc_deg, 0, ivo, ivc);
  draw_arc(p, cx, cy, 54, 180 - v->exhaust_opens_bbdc_deg, 360 + v->exhaust_closes_atdc_deg, 1, evo,
           evc);
  ew_text(p, cx - 4, cy - 30, 0, 8, TRUE, EW_RIGHT, ew_ochre, ew_tr("exhaust"));
  ew_text(p, cx + 8, cy - 30, 0, 8, TRUE, EW_LEFT, ew_blue, ew_tr("inlet"));
  g_autofree char *overlap = ew_words("%.0f°", v->overlap_deg);
  ew_text(p, cx, cy + 6, 0, 8.5, TRUE, EW_CENTRE, ew_black,
          ew_tr("overlap")); /* two lines: inside the ring in every language */
  ew_text(p, cx, cy + 17, 0, 8.5, TRUE, EW_CENTRE, ew_black, overlap);
  flow->y = cy + 114;
}

static double shown(const struct ew_build_paper *paper, double value_m) {
  return ew_shown(EW_KIND_LENGTH, paper->units, value_m);
}

static struct ew_plot frame_of(struct ew_flow *flow, double height, double low, double high,
                               double bottom, double top, const char *label) {
  struct ew_plot plot = {
      flow->pages.margin + 34,
      flow->y + 18,
      ew_flow_width(flow) - 48,
      height,
      ew_plot_axis(low, high, 12, ew_tr("crank degrees after top dead centre of the gas exchange")),
      ew_plot_axis(bottom, top, 6, label),
      {0}};
  plot.bottom.low = low;
  plot.bottom.high = high;
  return plot;
}

/* Height of the two plots under the circle, so that they and their caution stay on its page. */
static double plot_height(const struct ew_flow *flow) {
  return CLAMP((ew_flow_left(flow) - UNDER_PLOTS) / 2, 62, 104);
}

static void draw_lift(struct ew_flow *flow, const struct ew_build_paper *paper,
                      const struct ew_engine_check *check, double height) {
  g_autofree double *x = g_new(double, POINTS), *y = g_new(double, POINTS);
  double top = 0;
  for (int side = 0; side < 2; side++)
    if (check->has_motion[side])
      top = fmax(top,
                 shown(paper, check->motion[side].rocker_ratio * check->motion[side].lobe.peak_m));
  g_autofree char *label = ew_words("valve lift, %s", ew_kind_shown(EW_KIND_LENGTH, paper->units));
  ew_flow_heading(flow, "Lift with running lash");
  struct ew_plot plot = frame_of(flow, height, -240, 240, 0, top, label);
  plot.bottom.step = 40;
  ew_plot_frame(&flow->pages, &plot);
  for (int side = 0; side < 2; side++) {
    if (!check->has_motion[side])
      continue;
    double peak = 0, at = 0;
    for (int i = 0; i < POINTS; i++) {
      x[i] = -240 + i;
      y[i] = shown(paper, ew_valve_lift_m(&check->motion[side], x[i]));
      if (y[i] > peak)
        peak = y[i], at = x[i];
    }
    ew_plot_line(&flow->pages, &plot, FALSE, x, y, POINTS, 1.6, side ? 5 : 0, *ink_of(side));
    ew_plot_label(&flow->pages, &plot, FALSE, at + 12, peak, *ink_of(side),
                  ew_tr(ew_side_name(side)));
  }
  flow->y = plot.y + plot.height + 30;
}

static void draw_clearance(struct ew_flow *flow, const struct ew_build_paper *paper,
                           const struct ew_engine_check *check, double height) {
  double x[161], y[161];
  double top = shown(paper, 12e-3), bottom = 0;
  g_autofree char *label =
      ew_words("valve to piston, %s", ew_kind_shown(EW_KIND_LENGTH, paper->units));
  ew_flow_need(flow, height + 118);
  ew_flow_heading(flow, "Valve to piston through the overlap");
  for (int side = 0; side < 2; side++)
    if (check->has_clearance[side])
      bottom = fmin(bottom, shown(paper, check->clearance_zero[side].minimum_m));
  struct ew_plot plot = frame_of(flow, height, -40, 40, bottom, top, label);
  plot.bottom.step = 10;
  ew_plot_frame(&flow->pages, &plot);
  for (int side = 0; side < 2; side++) {
    const struct ew_valve_motion *m = &check->motion[side];
    for (int lash = 0; check->has_clearance[side] && lash < 2; lash++) {
      for (int i = 0; i < 161; i++) {
        double value;
        x[i] = -40 + 0.5 * i;
        value = shown(paper,
                      ew_valve_clearance_at_m(paper->engine, side, m, x[i], lash ? m->lash_m : 0));
        y[i] = value > plot.left.high ? (double)NAN : value;
      }
      ew_plot_line(&flow->pages, &plot, FALSE, x, y, 161, lash ? 1.6 : 0.7, side ? 5 : 0,
                   *ink_of(side));
    }
    double label_deg = side ? -22 : 22;
    if (check->has_clearance[side])
      ew_plot_label(&flow->pages, &plot, FALSE, label_deg + (side ? -4 : 4),
                    0.72 *
                        shown(paper, ew_valve_clearance_at_m(paper->engine, side, m, label_deg, 0)),
                    *ink_of(side), ew_tr(ew_side_name(side)));
  }
  flow->y = plot.y + plot.height + 30;
  for (int side = 0; side < 2; side++) {
    if (!check->has_clearance[side])
      continue;
    g_autofree char *running = ew_sheet_length(paper, check->clearance_running[side].minimum_m),
                    *zero = ew_sheet_length(paper, check->clearance_zero[side].minimum_m),
                    *text =
                        ew_words(check->clearance_running[side].at_deg < 0
                                     ? EW_TEXT("%s: at least %s with running lash, %s with none, "
                                               "at %.0f° before top dead centre.")
                                     : EW_TEXT("%s: at least %s with running lash, %s with none, "
                                               "at %.0f° after top dead centre."),
                                 ew_tr(ew_side_name(side)), running, zero,
                                 fabs(check->clearance_running[side].at_deg));
    ew_flow_text(flow, 8.5, FALSE, text);
  }
  ew_flow_caution(flow, "Calculated from the gap at top dead centre and the lift curve: it does "
                        "not know rod stretch, valve float or the sides of the valve pocket. "
                        "Measure on the engine, by hand, before it turns under its own power.");
}

void ew_sheet_draw_valves(struct ew_flow *flow, const struct ew_build_paper *paper) {
  struct ew_engine_check *check = ew_engine_check_new(paper->engine);
  if (!check->has_events[0] && !check->has_events[1])
    ew_flow_text(flow, 10, TRUE,
                 "The engine's file has no cam timing with durations: nothing to draw.");
  for (int k = 0; k < 2; k++) {
    if (!check->has_events[k] ||
        (k == 1 && check->has_events[0] && check->events[0].lift_m == check->events[1].lift_m))
      continue;
    const struct ew_valve_events *v = &check->events[k];
    g_autofree char *text = ew_words(
        "At %.2f mm (%.3f in) of lifter lift: inlet opens %.1f° BTDC, closes %.1f° ABDC; exhaust "
        "opens %.1f° BBDC, closes %.1f° ATDC; overlap %.1f°.",
        v->lift_m * 1e3, v->lift_m / 0.0254, v->inlet_opens_btdc_deg, v->inlet_closes_abdc_deg,
        v->exhaust_opens_bbdc_deg, v->exhaust_closes_atdc_deg, v->overlap_deg);
    ew_flow_text(flow, 9, FALSE, text);
  }
  int use = check->has_events[0] ? 0 : 1;
  if (check->has_events[use])
    draw_circle(flow, &check->events[use]);
  double height = plot_height(flow);
  if (check->has_motion[0] || check->has_motion[1])
    draw_lift(flow, paper, check, height);
  if (check->has_clearance[0] || check->has_clearance[1])
    draw_clearance(flow, paper, check, height);
  ew_engine_check_free(check);
}
