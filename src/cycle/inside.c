/* A trace by one cylinder's own angle. See inside.h. */
#include "cycle/inside.h"
#include <math.h>

/* The valve of that side, and the end of the pipe that it sits in (2 * pipe + side); -1: none. */
static int valve_of(const struct ew_cycle_plan *p, int cylinder, gboolean exhaust) {
  const struct ew_plan_valve *v = ew_plan_valves(p);
  for (int i = 0; i < ew_plan_count(p, EW_PLAN_VALVES); i++)
    if (v[i].cylinder == cylinder && (v[i].exhaust != 0) == exhaust)
      return i;
  return -1;
}

static int end_at(const struct ew_cycle_plan *p, int valve) {
  const struct ew_plan_pipe *pipe = ew_plan_pipes(p);
  for (int e = 0; valve >= 0 && e < 2 * ew_plan_count(p, EW_PLAN_PIPES); e++)
    if (pipe[e / 2].end[e % 2].kind == EW_END_VALVE && pipe[e / 2].end[e % 2].index == valve)
      return e;
  return -1;
}

/* Where lift passes the threshold between two of its rows, linear; rising from the first row on, falling from the last back. */
static double passes_deg(const struct ew_plan_valve *v, const double *lift, gboolean opening) {
  int n = (int)v->lifts, step = opening ? 1 : -1;
  for (int i = opening ? 0 : n - 1; i >= 0 && i < n; i += step)
    if (lift[i] >= EW_INSIDE_LIFT_M) {
      int before = i - step;
      double below = before >= 0 && before < n ? fmax(lift[before], 0) : lift[i];
      double back = lift[i] > below ? (lift[i] - EW_INSIDE_LIFT_M) / (lift[i] - below) : 0;
      return v->first_deg + v->step_deg * (i - step * back);
    }
  return NAN;
}

static void take_events(const struct ew_cycle_plan *p, int valve, struct ew_inside *in, int side) {
  g_assert(side == 0 || side == 1);
  in->opens_deg[side] = in->closes_deg[side] = NAN;
  if (valve < 0)
    return;
  const struct ew_plan_valve *v = ew_plan_valves(p) + valve;
  const double *lift = (const double *)ew_cycle_plan_section(p, EW_PLAN_LIFTS) + v->first_lift;
  double opens = passes_deg(v, lift, TRUE), closes = passes_deg(v, lift, FALSE);
  if (isnan(opens))
    return;
  double turns = 720 * floor((opens - EW_INSIDE_FROM_DEG) / 720);
  in->opens_deg[side] = opens - turns;
  in->closes_deg[side] = closes - turns;
}

/* Rows of a trace count from the crank's zero; ours from the cylinder's own angle. */
static void turn(const double *from, double firing_deg, double *to) {
  int zero = (int)lround(firing_deg) + EW_INSIDE_FROM_DEG;
  for (int i = 0; i < EW_INSIDE_DEGREES; i++)
    to[i] = from ? from[(zero + i + 1440) % 720] : NAN;
}

static void take_pipe(const struct ew_cycle_trace *t, int end, double firing_deg, double *port,
                      double *far) {
  turn(end < 0 ? NULL : ew_cycle_trace_of(t, EW_TRACE_PIPE_END, end, EW_TRACE_PRESSURE), firing_deg,
       port);
  turn(end < 0 ? NULL : ew_cycle_trace_of(t, EW_TRACE_PIPE_END, end ^ 1, EW_TRACE_PRESSURE),
       firing_deg, far);
}

/* The burned share is known while the valves are shut; before and after, the trace has nothing. */
static void leave_out_open(struct ew_inside *in) {
  double *burned = in->line[EW_INSIDE_BURNED];
  int most = 0;
  for (int i = 1; i < EW_INSIDE_DEGREES; i++)
    if (burned[i] > burned[most])
      most = i;
  for (int i = most + 1; i < EW_INSIDE_DEGREES; i++)
    if (burned[i] < burned[i - 1] || isnan(burned[i - 1]))
      burned[i] = NAN;
}

void ew_inside_of(const struct ew_cycle_plan *plan, const struct ew_cycle_trace *t, int cylinder,
                  struct ew_inside *in) {
  g_assert(plan && t && cylinder >= 0 && cylinder < t->cylinders);
  int inlet = valve_of(plan, cylinder, FALSE), exhaust = valve_of(plan, cylinder, TRUE);
  double firing = t->firing_deg[cylinder];
  in->cylinder = cylinder;
  for (int i = 0; i < EW_INSIDE_DEGREES; i++)
    in->angle_deg[i] = EW_INSIDE_FROM_DEG + i;
  turn(ew_cycle_trace_of(t, EW_TRACE_CYLINDER, cylinder, EW_TRACE_PRESSURE), firing,
       in->line[EW_INSIDE_CYLINDER]);
  turn(ew_cycle_trace_of(t, EW_TRACE_CYLINDER, cylinder, EW_TRACE_VOLUME), firing,
       in->line[EW_INSIDE_VOLUME]);
  turn(ew_cycle_trace_of(t, EW_TRACE_CYLINDER, cylinder, EW_TRACE_BURNED), firing,
       in->line[EW_INSIDE_BURNED]);
  take_pipe(t, end_at(plan, inlet), firing, in->line[EW_INSIDE_INLET_PORT],
            in->line[EW_INSIDE_INLET_FAR]);
  take_pipe(t, end_at(plan, exhaust), firing, in->line[EW_INSIDE_EXHAUST_PORT],
            in->line[EW_INSIDE_EXHAUST_FAR]);
  leave_out_open(in);
  take_events(plan, inlet, in, 0);
  take_events(plan, exhaust, in, 1);
}
