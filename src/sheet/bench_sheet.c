/* Sheets for the bench: lash, and degreeing in the cam. Big, with boxes to write into. */
#include "build/lash.h"
#include "base/words.h"
#include "build/walk.h"
#include "engine/cam.h"
#include "engine/degree_in.h"
#include "engine/valve_motion.h"
#include "sheet/build_sheet.h"
#include <math.h>
#include <string.h>

#define TABLE_HEAD  48.0 /* height of the lash table's head */
#define UNDER_TABLE 34.0 /* of the line under it */
#define LEAST_BOX   22.0 /* a box of this height can be written into at the bench */

static void say_proposal(struct ew_flow *flow, const struct ew_build_paper *paper, int side) {
  const struct ew_growth *g = &paper->growth[side];
  double wanted = ew_lash_wanted_m(paper->engine, side);
  g_autofree char *hot = ew_sheet_length(paper, wanted),
                  *cold = ew_sheet_length(paper, wanted - g->mean_m),
                  *low = ew_sheet_length(paper, wanted - g->high_m),
                  *high = ew_sheet_length(paper, wanted - g->low_m), *text = NULL;
  if (isnan(wanted))
    text = g_strdup_printf(
        ew_lifters_are_hydraulic(paper->engine)
            ? "%s: hydraulic lifters have no lash: preload by their maker's instruction."
            : "%s: the engine's file gives no lash: write the card's here ________",
        ew_side_name(side));
  else if (g->builds == 0)
    text =
        g_strdup_printf("%s: hot %s by the cam's card. Nothing learnt yet about the cold setting.",
                        ew_side_name(side), hot);
  else
    text = g_strdup_printf("%s: hot %s by the cam's card. Begin cold at %s (95 %% of valves %s to "
                           "%s; %d build%s, %d valves%s).",
                           ew_side_name(side), hot, cold, isnan(g->low_m) ? "?" : low,
                           isnan(g->low_m) ? "?" : high, g->builds, g->builds == 1 ? "" : "s",
                           g->valves, g->few ? ", FEW DATA" : "");
  *text = g_ascii_toupper(*text);
  ew_flow_text(flow, 11, FALSE, text);
}

static void add_valve(GPtrArray *cells, const struct ew_build_paper *paper,
                      const struct ew_walk_stop *stop, guint number, int k) {
  const struct ew_walk_valve *v = &stop->valves[k];
  double wanted = ew_lash_wanted_m(paper->engine, v->side);
  g_autofree char *turn = g_strdup_printf("!%u", number),
                  *where = stop->firing == 0 ? ew_words("wheel at %.0f°", stop->crank_deg)
                           : stop->companion ? g_strdup_printf("%d fires, %d rocks", stop->firing,
                                                               stop->companion)
                                             : g_strdup_printf("%d fires", stop->firing),
                  *valve = g_strdup_printf("!%d %s", v->cylinder, ew_side_name(v->side)),
                  *hot = ew_sheet_length(paper, wanted),
                  *cold = ew_sheet_length(paper, wanted - paper->growth[v->side].mean_m);
  *strchrnul(hot, ' ') = 0; /* the column's head has the unit */
  *strchrnul(cold, ' ') = 0;
  ew_sheet_cells(cells, k == 0 ? turn : "", k == 0 ? where : "", valve, hot, cold, NULL, NULL, NULL,
                 NULL, EW_END);
}

void ew_sheet_draw_lash(struct ew_flow *flow, const struct ew_build_paper *paper) {
  gboolean us = paper->units == EW_UNITS_US;
  const struct ew_flow_column columns[] = {
      {"stop", 0.75, EW_CENTRE},
      {"crank", 2.2, EW_LEFT},
      {"valve", 1.5, EW_LEFT},
      {us ? "hot, card, in" : "hot, card, mm", 0.95, EW_RIGHT},
      {us ? "begin cold, in" : "begin cold, mm", 1.0, EW_RIGHT},
      {"cold before", 1.1, EW_CENTRE},
      {"cold set", 1.1, EW_CENTRE},
      {"hot", 1.1, EW_CENTRE},
      {"minutes since stop", 1.15, EW_CENTRE}};
  g_autoptr(GError) error = NULL;
  g_autoptr(GArray) stops = ew_walk(paper->engine, FALSE, &error);
  ew_flow_caution(flow, "Ignition off and its leads away, fuel shut off, before a hand turns the "
                        "crank. A head just stopped burns. The cam maker's card and the engine's "
                        "own hot reading go before any figure on this sheet.");
  say_proposal(flow, paper, 0);
  say_proposal(flow, paper, 1);
  if (!stops) {
    ew_flow_text(flow, 11, TRUE, error->message);
    return;
  }
  const struct ew_walk_stop *first = &g_array_index(stops, struct ew_walk_stop, 0);
  g_autofree char *next = stops->len > 1
                              ? ew_words("then %.0f° to the next stop. ", first[1].turn_deg)
                              : g_strdup(""),
                  *rocks = first->companion
                               ? g_strdup_printf("\"%d fires, %d rocks\": at firing dead "
                                                 "centre of %d the valves of %d just "
                                                 "change over.",
                                                 first->firing, first->companion, first->firing,
                                                 first->companion)
                               : g_strdup(""),
                  *how = g_strdup_printf("Turn the way the engine runs, %s%s", next, rocks);
  ew_flow_text(flow, 9.5, FALSE, how);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < stops->len; i++) {
    const struct ew_walk_stop *stop = &g_array_index(stops, struct ew_walk_stop, i);
    for (int k = 0; k < stop->count; k++)
      add_valve(cells, paper, stop, i + 1, k);
  }
  guint rows = cells->len / G_N_ELEMENTS(columns);
  flow->y += 4;
  flow->keep = UNDER_TABLE; /* one page where the boxes stay large enough to write into */
  double fits = (ew_flow_left(flow) - TABLE_HEAD - UNDER_TABLE) / MAX(rows, 1);
  ew_flow_table(flow, columns, G_N_ELEMENTS(columns), cells, 11,
                fits >= LEAST_BOX ? fmin(fits, 34) : 34);
  ew_flow_need(flow, 40);
  flow->y += 8;
  ew_flow_text(
      flow, 10.5, FALSE,
      "Head temperature _________   stopped at _________   set by ___________   date ________");
}

static void degree_rows(GPtrArray *cells, const struct ew_engine *e) {
  g_autofree char *lift = isnan(e->inlet.check_lift_m) ? g_strdup("the card's check lift")
                                                       : ew_words("%.2f mm (%.3f in) at the lifter",
                                                                  e->inlet.check_lift_m * 1e3,
                                                                  e->inlet.check_lift_m / 0.0254),
                  *events =
                      g_strdup_printf("2. Inlet opens at %s: degrees before dead centre", lift);
  ew_sheet_cells(
      cells, "Positive stop in the cylinder; wheel at the stop, turned forwards", NULL, NULL,
      "Wheel at the stop, turned backwards", NULL, NULL,
      "Sum of both over two: zero when the wheel stands right; else move the pointer by it", NULL,
      NULL,
      "1. Same lift on both sides near the nose (say 1.3 mm, 0.05 in, below it): wheel before the "
      "nose",
      NULL, NULL, "Wheel after the nose", NULL, NULL,
      "!Centreline by method 1: sum of both over two", NULL, NULL, events, NULL, NULL,
      "Inlet closes at the same lift: degrees after bottom dead centre", NULL, NULL,
      "!Centreline by method 2: (180 + closes - opens) / 2", NULL, NULL, "!Mean of both methods",
      NULL, NULL, EW_END);
}

static void say_wanted(struct ew_flow *flow, const struct ew_engine *e) {
  struct ew_cam_timing timing;
  if (!ew_cam_timing_of(e, &timing)) {
    ew_flow_text(flow, 11, TRUE,
                 "The engine's file gives no cam timing: write the card's here "
                 "________________");
    return;
  }
  g_autofree char *text =
      ew_words("Wanted by the cam's card: inlet centreline %.1f°", timing.inlet_centreline_deg);
  ew_flow_text(flow, 13, TRUE, text);
  double inlet = ew_check_duration_deg(&e->inlet), exhaust = ew_check_duration_deg(&e->exhaust);
  if (isnan(inlet) || isnan(exhaust))
    return;
  struct ew_valve_events v = ew_valve_events_of(timing, inlet, exhaust, e->inlet.check_lift_m);
  g_autofree char *events = ew_words(
      "At %.2f mm (%.3f in) of lifter lift: inlet opens %.1f° before and closes %.1f° after, "
      "exhaust "
      "opens %.1f° before and closes %.1f° after dead centre; lobe separation %.1f°.",
      e->inlet.check_lift_m * 1e3, e->inlet.check_lift_m / 0.0254, v.inlet_opens_btdc_deg,
      v.inlet_closes_abdc_deg, v.exhaust_opens_bbdc_deg, v.exhaust_closes_atdc_deg,
      timing.separation_deg);
  ew_flow_text(flow, 10, FALSE, events);
}

static void say_read(struct ew_flow *flow, const struct ew_engine *e) {
  struct ew_degree_in d;
  if (!ew_degree_in_of(e, &d))
    return;
  g_autofree char *text = ew_words(
      "As read before, from the engine's file: %.1f° by method 1, %.1f° by method 2, wheel off by "
      "%.1f°: %s the cam by %.1f° of the crank.",
      d.by_centre_deg, d.by_events_deg, isnan(d.tdc_error_deg) ? 0 : d.tdc_error_deg,
      d.advance_by_deg >= 0 ? "advance" : "retard", fabs(d.advance_by_deg));
  ew_flow_text(flow, 10.5, TRUE, text);
}

void ew_sheet_draw_degree(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {"what to read, from true top dead centre", 4.4, EW_LEFT},
      {"cylinder ____", 1.3, EW_CENTRE},
      {"cylinder ____", 1.3, EW_CENTRE}};
  ew_flow_caution(flow,
                  "Turn by hand only, with plugs out and checking springs in. Stop at once when "
                  "anything resists: a valve may stand on its piston. Take the positive stop "
                  "out before the starter is touched.");
  say_wanted(flow, paper->engine);
  say_read(flow, paper->engine);
  flow->y += 4;
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  degree_rows(cells, paper->engine);
  ew_flow_table(flow, columns, 3, cells, 10.5, 38);
  flow->y += 6;
  ew_flow_text(flow, 10.5, FALSE,
               "Correction = measured less wanted centreline. Positive: advance the cam by so many "
               "crank degrees; negative: retard it. The methods should agree within 1°: else a "
               "reading slipped, the stop moved, or the lobe's flanks differ. Take backlash out by "
               "turning one way only.");
  flow->y += 8;
  ew_flow_text(flow, 11.5, FALSE,
               "Correction ________°    key or offset used ______________    read again ________°");
  flow->y += 8;
  ew_flow_text(flow, 10.5, FALSE, "Degreed in by ________________________    date ____________");
}
