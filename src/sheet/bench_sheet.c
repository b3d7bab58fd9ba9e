/* Sheets for the bench: lash, and degreeing in the cam. Big, with boxes to write into. */
#include "build/lash.h"
#include "base/words.h"
#include "build/walk.h"
#include "engine/cam.h"
#include "engine/degree_in.h"
#include "engine/valve_motion.h"
#include "sheet/build_sheet.h"
#include "base/language.h"
#include <math.h>
#include <string.h>

#define TABLE_HEAD  48.0 /* height of the lash table's head */
#define UNDER_TABLE 34.0 /* of the line under it */
#define LEAST_BOX   22.0 /* a box of this height can be written into at the bench */

static void say_proposal(struct ew_flow *flow, const struct ew_build_paper *paper, int side) {
  g_assert(side == 0 || side == 1);
  const struct ew_growth *g = &paper->growth[side];
  double wanted = ew_lash_wanted_m(paper->engine, side);
  g_autofree char *hot = ew_sheet_length(paper, wanted),
                  *cold = ew_sheet_length(paper, wanted - g->mean_m),
                  *low = ew_sheet_length(paper, wanted - g->high_m),
                  *high = ew_sheet_length(paper, wanted - g->low_m), *text = NULL;
  const char *name = ew_tr(ew_side_name(side)), *unknown = "?";
  if (isnan(wanted))
    text = ew_words(ew_lifters_are_hydraulic(paper->engine)
                        ? EW_TEXT("%s: hydraulic lifters have no lash: set the preload to their "
                                  "maker's instructions.")
                        : EW_TEXT("%s: the engine's file has no lash: write the card's here "
                                  "________"),
                    name);
  else if (g->builds == 0)
    text = ew_words("%s: hot %s by the cam card. Nothing learned yet about the cold setting.", name,
                    hot);
  else
    text = ew_words(
        g->few ? ew_tr_many("%s: hot %s by the cam card. Start cold at %s (95 %% of valves "
                            "%s to %s; %d build, %d valves, FEW DATA).",
                            "%s: hot %s by the cam card. Start cold at %s (95 %% of valves "
                            "%s to %s; %d builds, %d valves, FEW DATA).",
                            (guint64)g->builds)
               : ew_tr_many("%s: hot %s by the cam card. Start cold at %s (95 %% of valves "
                            "%s to %s; %d build, %d valves).",
                            "%s: hot %s by the cam card. Start cold at %s (95 %% of valves "
                            "%s to %s; %d builds, %d valves).",
                            (guint64)g->builds),
        name, hot, cold, isnan(g->low_m) ? unknown : low, isnan(g->low_m) ? unknown : high,
        g->builds, g->valves);
  *text = g_ascii_toupper(*text);
  ew_flow_text(flow, 11, FALSE, text);
}

static void add_valve(GPtrArray *cells, const struct ew_build_paper *paper,
                      const struct ew_walk_stop *stop, guint number, int k) {
  g_assert(k >= 0 && k < stop->count);
  const struct ew_walk_valve *v = &stop->valves[k];
  double wanted = ew_lash_wanted_m(paper->engine, v->side);
  g_autofree char *turn = g_strdup_printf("!%u", number),
                  *where = stop->firing == 0 ? ew_words("wheel at %.0f°", stop->crank_deg)
                           : stop->companion
                               ? ew_words("%d fires, %d rocks", stop->firing, stop->companion)
                               : ew_words("%d fires", stop->firing),
                  *valve = g_strdup_printf("!%d %s", v->cylinder, ew_tr(ew_side_name(v->side))),
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
      {EW_TEXT("stop position"), 0.75, EW_CENTRE},
      {EW_TEXT("crank"), 2.2, EW_LEFT},
      {EW_TEXT("valve"), 1.5, EW_LEFT},
      {us ? EW_TEXT("hot, card, in") : EW_TEXT("hot, card, mm"), 0.95, EW_RIGHT},
      {us ? EW_TEXT("start cold, in") : EW_TEXT("start cold, mm"), 1.0, EW_RIGHT},
      {EW_TEXT("cold before"), 1.1, EW_CENTRE},
      {EW_TEXT("cold set"), 1.1, EW_CENTRE},
      {EW_TEXT("hot"), 1.1, EW_CENTRE},
      {EW_TEXT("minutes since stop"), 1.15, EW_CENTRE}};
  g_autoptr(GError) error = NULL;
  g_autoptr(GArray) stops = ew_walk(paper->engine, FALSE, &error);
  ew_flow_caution(flow, "Ignition off and its leads disconnected, fuel shut off, before anybody "
                        "turns the crank by hand. The head of an engine that has just stopped "
                        "burns. The cam maker's card and the engine's own hot reading take "
                        "precedence over any figure on this sheet.");
  say_proposal(flow, paper, 0);
  say_proposal(flow, paper, 1);
  if (!stops) {
    ew_flow_text(flow, 11, TRUE, error->message);
    return;
  }
  const struct ew_walk_stop *first = &g_array_index(stops, struct ew_walk_stop, 0);
  g_autofree char *turn =
                      stops->len > 1
                          ? ew_words("Turn the way the engine runs, then %.0f° to the next stop.",
                                     first[1].turn_deg)
                          : g_strdup(ew_tr("Turn the way the engine runs.")),
                  *rocks = first->companion
                               ? ew_words("\"%d fires, %d rocks\": at firing dead centre of %d the "
                                          "valves of %d are just changing over.",
                                          first->firing, first->companion, first->firing,
                                          first->companion)
                               : g_strdup(""),
                  *how = g_strjoin(*rocks ? " " : "", turn, rocks, NULL);
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
  g_autofree char *lift = isnan(e->inlet.check_lift_m) ? g_strdup(ew_tr("the card's check lift"))
                                                       : ew_words("%.2f mm (%.3f in) at the lifter",
                                                                  e->inlet.check_lift_m * 1e3,
                                                                  e->inlet.check_lift_m / 0.0254),
                  *events = ew_words("2. Inlet opens at %s: degrees before dead centre", lift);
  const char *const rows[] = {
      ew_tr("Positive stop in the cylinder; wheel at the stop, turned forwards"),
      ew_tr("Wheel at the stop, turned backwards"),
      ew_tr("Half the sum of both: zero when the wheel is right; otherwise move the pointer by it"),
      ew_tr(
          "1. Same lift on both sides near the nose (say 1.3 mm, 0.05 in, below it): wheel before "
          "the nose"),
      ew_tr("Wheel after the nose"),
      ew_tr("!Centreline by method 1: half the sum of both"),
      events,
      ew_tr("Inlet closes at the same lift: degrees after bottom dead centre"),
      ew_tr("!Centreline by method 2: (180 + closes - opens) / 2"),
      ew_tr("!Mean of both methods")};
  for (gsize i = 0; i < G_N_ELEMENTS(rows); i++)
    ew_sheet_cells(cells, rows[i], NULL, NULL, EW_END);
}

static void say_wanted(struct ew_flow *flow, const struct ew_engine *e) {
  struct ew_cam_timing timing;
  if (!ew_cam_timing_of(e, &timing)) {
    ew_flow_text(flow, 11, TRUE,
                 "The engine's file has no cam timing: write the card's here "
                 "________________");
    return;
  }
  g_autofree char *text =
      ew_words("Target by the cam card: inlet centreline %.1f°", timing.inlet_centreline_deg);
  ew_flow_text(flow, 13, TRUE, text);
  double inlet = ew_check_duration_deg(&e->inlet), exhaust = ew_check_duration_deg(&e->exhaust);
  if (isnan(inlet) || isnan(exhaust))
    return;
  struct ew_valve_events v = ew_valve_events_of(timing, inlet, exhaust, e->inlet.check_lift_m);
  g_autofree char *events = ew_words(
      "At %.2f mm (%.3f in) of lifter lift: inlet opens %.1f° before and closes %.1f° after, "
      "exhaust opens %.1f° before and closes %.1f° after dead centre; lobe separation %.1f°.",
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
      d.advance_by_deg >= 0
          ? EW_TEXT("As read before, from the engine's file: %.1f° by method 1, %.1f° by method 2, "
                    "wheel off by %.1f°: advance the cam by %.1f crank degrees.")
          : EW_TEXT("As read before, from the engine's file: %.1f° by method 1, %.1f° by method 2, "
                    "wheel off by %.1f°: retard the cam by %.1f crank degrees."),
      d.by_centre_deg, d.by_events_deg, isnan(d.tdc_error_deg) ? 0 : d.tdc_error_deg,
      fabs(d.advance_by_deg));
  ew_flow_text(flow, 10.5, TRUE, text);
}

void ew_sheet_draw_degree(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {EW_TEXT("what to read, from true top dead centre"), 4.4, EW_LEFT},
      {EW_TEXT("cylinder ____"), 1.3, EW_CENTRE},
      {EW_TEXT("cylinder ____"), 1.3, EW_CENTRE}};
  ew_flow_caution(flow,
                  "Turn by hand only, with plugs out and checking springs in. Stop at once if "
                  "anything resists: a valve may be touching its piston. Take the positive stop "
                  "out before the starter is touched.");
  say_wanted(flow, paper->engine);
  say_read(flow, paper->engine);
  flow->y += 4;
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  degree_rows(cells, paper->engine);
  ew_flow_table(flow, columns, 3, cells, 10.5, 38);
  flow->y += 6;
  ew_flow_text(flow, 10.5, FALSE,
               "Correction = measured minus target centreline. Positive: advance the cam by that "
               "many crank degrees; negative: retard it. The methods should agree within 1°: if "
               "not, a reading slipped, the stop moved, or the lobe's flanks differ. Take up "
               "backlash by turning one way only.");
  flow->y += 8;
  ew_flow_text(flow, 11.5, FALSE,
               "Correction ________°    key or offset used ______________    read again ________°");
  flow->y += 8;
  ew_flow_text(flow, 10.5, FALSE, "Degreed in by ________________________    date ____________");
}
