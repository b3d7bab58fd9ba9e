/* Sheets that leave with the engine: care sheet and dispatch list. */
#include "engine/valve_motion.h"
#include "base/words.h"
#include "sheet/build_sheet.h"
#include "base/language.h"
#include <math.h>
#include <string.h>

/* The last cold reading of each side, as a mean of its valves; NULL: none. */
static char *cold_lash(const struct ew_build_paper *paper) {
  g_autoptr(GArray) rows = ew_lash_rows(paper->build, paper->engine);
  double sum[2] = {0, 0};
  int count[2] = {0, 0};
  for (guint i = 0; i < rows->len; i++) {
    const struct ew_lash_row *row = &g_array_index(rows, struct ew_lash_row, i);
    if (isnan(row->cold_m))
      continue;
    sum[row->side] += row->cold_m;
    count[row->side]++;
  }
  if (ew_lifters_are_hydraulic(paper->engine) || !count[0] || !count[1])
    return NULL;
  g_autofree char *inlet = ew_sheet_length(paper, sum[0] / count[0]),
                  *exhaust = ew_sheet_length(paper, sum[1] / count[1]);
  return ew_words("inlet %s, exhaust %s, as last set", inlet, exhaust);
}

static void add_limits(GPtrArray *pairs, const struct ew_build_paper *paper) {
  const struct ew_engine *e = paper->engine;
  struct ew_build_agreed now = ew_build_agreed_now(paper->build);
  double limit = isnan(now.limit_rpm) ? e->agreed_limit_rpm : now.limit_rpm;
  g_autofree char *speed = isnan(limit) ? NULL : ew_words("%#.0f rpm, never above", limit),
                  *octane = isnan(e->octane) ? NULL : ew_words("%.0f RON or better", e->octane),
                  *lambda = isnan(e->lambda_target)
                                ? NULL
                                : ew_words("%.2f at full load", e->lambda_target),
                  *inlet = ew_sheet_length(paper, ew_lash_wanted_m(e, 0)),
                  *exhaust = ew_sheet_length(paper, ew_lash_wanted_m(e, 1)),
                  *hot = ew_lifters_are_hydraulic(e) ? g_strdup(ew_tr("none: hydraulic lifters"))
                         : isnan(ew_lash_wanted_m(e, 0))
                             ? NULL
                             : ew_words("inlet %s, exhaust %s", inlet, exhaust),
                  *cold = cold_lash(paper), *hours = ew_words("%.1f h", paper->running_s / 3600);
  ew_sheet_cells(pairs, EW_TEXT("highest speed"), speed, EW_TEXT("fuel"),
                 now.fuel ? now.fuel : e->fuel, EW_TEXT("octane"), octane,
                 EW_TEXT("mixture, lambda"), lambda, EW_TEXT("valve lash, hot"), hot,
                 EW_TEXT("valve lash, cold"), cold, EW_TEXT("running so far"), hours, EW_END);
}

static void draw_proved(struct ew_flow *flow, const struct ew_build_paper *paper) {
  ew_flow_heading(flow, "What it was proved with");
  if (paper->proved && paper->proved->len)
    ew_flow_pairs(flow, paper->proved);
  for (guint i = 0; paper->proved_notes && i < paper->proved_notes->len; i++)
    ew_flow_text(flow, 8, FALSE, paper->proved_notes->pdata[i]);
  if (paper->proved && paper->proved->len)
    ew_flow_text(
        flow, 8, FALSE,
        "Begin with these settings. Another car, another exhaust or another fuel is another "
        "installation: check mixture and knock from the safe side before full load.");
}

static void draw_fluids(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{EW_TEXT("fluid"), 1.5, EW_LEFT},
                                                  {EW_TEXT("how much"), 1, EW_LEFT},
                                                  {EW_TEXT("batch"), 1, EW_OWN},
                                                  {EW_TEXT("remark"), 2.5, EW_OWN}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_part *part;
  EW_BUILD_EACH(paper->build, PART, struct ew_build_part, part, i)
  if (part->fluid)
    ew_sheet_cells(cells, part->part, part->quantity ? part->quantity : "",
                   part->batch ? part->batch : "", part->mark.note ? part->mark.note : "", EW_END);
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "Fluids");
  ew_flow_table(flow, columns, 4, cells, 9, 0);
}

static char *life_text(const struct ew_build_due *d) {
  double hours = d->life_s / 3600, minutes = d->life_above_s / 60, rpm = d->part->life_speed_rpm;
  if (isnan(d->life_above_s))
    return isnan(d->life_s) ? g_strdup("") : ew_words("%.0f h of running", hours);
  return isnan(d->life_s)
             ? ew_words("%.0f min above %#.0f rpm", minutes, rpm)
             : ew_words("%.0f h of running, or %.0f min above %#.0f rpm", hours, minutes, rpm);
}

static void draw_due(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {
      {EW_TEXT("part"), 2, EW_OWN},
      {EW_TEXT("where"), 1.3, EW_LEFT},
      {EW_TEXT("look at or change after"), 2.4, EW_LEFT},
      {EW_TEXT("used so far"), 1.1, EW_RIGHT}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < paper->due->len; i++) {
    const struct ew_build_due *d = &g_array_index(paper->due, struct ew_build_due, i);
    g_autofree char *life = life_text(d), *share = d->share >= 1
                                                       ? ew_words("!DUE, %.0f %%", 100 * d->share)
                                                       : ew_words("%.0f %%", 100 * d->share);
    ew_sheet_cells(cells, d->part->part, d->part->position ? d->part->position : "", life, share,
                   EW_END);
  }
  if (cells->len == 0)
    return;
  ew_flow_heading(flow, "What is due, and when");
  ew_flow_table(flow, columns, 4, cells, 9, 0);
  ew_flow_text(flow, 8, FALSE,
               "Figures from the shop or the parts' makers, for the agreed use; what a part "
               "looks like takes precedence.");
}

void ew_sheet_draw_care(struct ew_flow *flow, const struct ew_build_paper *paper) {
  const struct ew_engine *e = paper->engine;
  gboolean air = e->cooling == 1, lash = !ew_lifters_are_hydraulic(e);
  const char *const first[] = {
      air ? EW_TEXT("1.  Oil to the mark, cooling air free, no leaks, throttle opens, and shuts by "
                    "itself.")
          : EW_TEXT("1.  Oil and coolant to the mark, no leaks, throttle opens, and shuts by "
                    "itself."),
      EW_TEXT("2.  Ignition off, plugs out: turn on the starter until the gauge shows oil "
              "pressure."),
      EW_TEXT("3.  Start, and look at oil pressure first: none within five seconds, stop."),
      air ? EW_TEXT("4.  Warm up without load until the oil is warm; look underneath.")
          : EW_TEXT("4.  Warm up without load until oil and coolant are warm; look underneath."),
      EW_TEXT("5.  Check the timing with a light before the first full throttle."),
      lash ? EW_TEXT("6.  Keep the first heat cycle short; let it cool; check lash, leaks and oil "
                     "level.")
           : EW_TEXT("6.  Keep the first heat cycle short; let it cool; check leaks and oil "
                     "level.")};
  const char *const each[] = {
      air ? EW_TEXT("Oil level, leaks, and what the filter or plugs look like.")
          : EW_TEXT("Oil level, coolant, leaks, and what the filter or plugs look like."),
      EW_TEXT("Write down hours and runs and report them to the shop: what is due follows from "
              "them."),
      lash ? EW_TEXT("Lash on two valves per bank: a change of more than 0.05 mm (0.002 in) means "
                     "stop and look.")
           : EW_TEXT("A valve train that has become noisy means stop and look.")};
  g_autoptr(GPtrArray) pairs = g_ptr_array_new_with_free_func(g_free);
  add_limits(pairs, paper);
  ew_flow_heading(flow, "Limits and settings");
  ew_flow_pairs(flow, pairs);
  ew_flow_caution(flow,
                  "Never exceed the speed stated. Knock, smoke, a new noise or low oil pressure: "
                  "shut the throttle, switch off the ignition, and find out why before it runs "
                  "again. Fuel vapour burns, hot parts burn, turning parts catch: makers' "
                  "instructions and local rules take precedence over this sheet.");
  draw_proved(flow, paper);
  draw_fluids(flow, paper);
  ew_flow_heading(flow, "First start");
  for (gsize i = 0; i < G_N_ELEMENTS(first); i++)
    ew_flow_text(flow, 9.5, FALSE, first[i]);
  ew_flow_heading(flow, "After each use");
  for (gsize i = 0; i < G_N_ELEMENTS(each); i++)
    ew_flow_text(flow, 9.5, FALSE, each[i]);
  draw_due(flow, paper);
}

void ew_sheet_draw_dispatch(struct ew_flow *flow, const struct ew_build_paper *paper) {
  static const struct ew_flow_column columns[] = {{"", 0.5, EW_CENTRE},
                                                  {EW_TEXT("step"), 4.5, EW_LEFT},
                                                  {EW_TEXT("state"), 1.2, EW_LEFT},
                                                  {EW_TEXT("who"), 1.2, EW_CENTRE}};
  static const struct ew_flow_column loose[] = {
      {EW_TEXT("loose part or bolted-on part"), 4, EW_LEFT},
      {EW_TEXT("how many"), 1, EW_CENTRE},
      {EW_TEXT("packed"), 1, EW_CENTRE}};
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free),
                       blank = g_ptr_array_new_with_free_func(g_free);
  const struct ew_build_step *step;
  ew_flow_caution(flow,
                  "Lift at the lifting points only, with gear rated for the weight; nobody stands "
                  "under it. Flush out the fuel before it is boxed.");
  EW_BUILD_EACH(paper->build, STEP, struct ew_build_step, step, i) {
    if (step->before != EW_GATE_DISPATCH)
      continue;
    const struct ew_build_tick *tick;
    int state = ew_build_step_state(paper->build, step, &tick);
    g_autofree char *day = state == 0 ? ew_sheet_day(tick->mark.at) : NULL,
                    *done = state == 0  ? ew_words("done %s", day)
                            : state > 0 ? g_strconcat(state == 2 ? "!" : "",
                                                      ew_tr(ew_build_step_state_word(state)), NULL)
                                        : g_strdup("");
    ew_sheet_cells(cells, state == 0 ? "!x" : NULL, step->step, done,
                   tick && tick->mark.who ? tick->mark.who : NULL, EW_END);
  }
  ew_flow_heading(flow, "Before it leaves");
  if (cells->len)
    ew_flow_table(flow, columns, 4, cells, 10.5, 28);
  else
    ew_flow_text(flow, 9.5, FALSE, "The build has no checklist with steps before dispatch.");
  draw_fluids(flow, paper);
  ew_flow_heading(flow, "Packed with it");
  for (int i = 0; i < 8; i++)
    ew_sheet_cells(blank, NULL, NULL, NULL, EW_END);
  ew_flow_table(flow, loose, 3, blank, 10, 26);
}
