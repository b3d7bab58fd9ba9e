/* Invented engines for tests and benchmarks: generic dimensions, nobody's product. */
#pragma once
#include "cycle/predict.h"
#include <math.h>
#include <string.h>

#define ENGINE_MOST 12
#define LIFTS       181

struct engine {
  struct ew_cycle_model model;
  struct ew_cycle_cylinder cylinder[ENGINE_MOST];
  struct ew_cycle_pipe pipe[3 * ENGINE_MOST];
  struct ew_cycle_valve valve[2 * ENGINE_MOST];
  struct ew_cycle_volume volume[4];
  struct ew_cycle_station intake[3], exhaust[3], tail[2], body[2];
  double intake_lift[LIFTS], exhaust_lift[LIFTS];
};

/* CdA / head area against lift/diameter: generic figures of common practice. */
static const struct ew_cycle_flow engine_flow[] = {
    {0.05, 0.155, 0.155}, {0.10, 0.30, 0.30}, {0.15, 0.425, 0.425}, {0.20, 0.515, 0.515},
    {0.25, 0.575, 0.575}, {0.30, 0.61, 0.61}, {0.35, 0.63, 0.63}};

static inline void engine_lift(double *lift, double most) {
  for (int i = 0; i < LIFTS; i++)
    lift[i] = most * pow(sin(G_PI * i / (LIFTS - 1)), 1.7);
  lift[0] = lift[LIFTS - 1] = 0;
}

struct engine_shape {
  double bore, stroke, rod, ratio, in_head, ex_head, turbulence;
  int valves; /* of each kind */
  double ivo, ivc, evo, evc;
  double runner, runner_mouth, runner_port, primary, primary_port, primary_end;
};

/* A two-valve engine of 0.35 l and a four-valve one of 0.5 l per cylinder. */
static const struct engine_shape engine_a = {.bore = 0.0765,
                                             .stroke = 0.0762,
                                             .rod = 0.127,
                                             .ratio = 9.5,
                                             .in_head = 0.0375,
                                             .ex_head = 0.031,
                                             .turbulence = 1,
                                             .valves = 1,
                                             .ivo = 20,
                                             .ivc = 58,
                                             .evo = 52,
                                             .evc = 22,
                                             .runner = 0.33,
                                             .runner_mouth = 0.036,
                                             .runner_port = 0.033,
                                             .primary = 0.7,
                                             .primary_port = 0.032,
                                             .primary_end = 0.034};
static const struct engine_shape engine_b = {.bore = 0.086,
                                             .stroke = 0.086,
                                             .rod = 0.143,
                                             .ratio = 10.5,
                                             .in_head = 0.0335,
                                             .ex_head = 0.028,
                                             .turbulence = 1.15,
                                             .valves = 2,
                                             .ivo = 18,
                                             .ivc = 55,
                                             .evo = 50,
                                             .evc = 18,
                                             .runner = 0.36,
                                             .runner_mouth = 0.046,
                                             .runner_port = 0.042,
                                             .primary = 0.6,
                                             .primary_port = 0.040,
                                             .primary_end = 0.041};

static inline void engine_parts(struct engine *e, const struct engine_shape *s, int cylinders,
                                const double *firing_deg) {
  memset(e, 0, sizeof *e);
  ew_cycle_model_defaults(&e->model);
  e->model.combustion.turbulence = s->turbulence;
  engine_lift(e->intake_lift, 0.27 * s->in_head);
  engine_lift(e->exhaust_lift, 0.27 * s->ex_head);
  e->intake[0] = (struct ew_cycle_station){0, s->runner_mouth, NAN, 1};
  e->intake[1] = (struct ew_cycle_station){s->runner - 0.08, s->runner_port, NAN, 1};
  e->intake[2] = (struct ew_cycle_station){s->runner, s->runner_port, NAN, 1};
  e->exhaust[0] = (struct ew_cycle_station){0, s->primary_port, NAN, 1};
  e->exhaust[1] = (struct ew_cycle_station){s->primary, s->primary_end, NAN, 1};
  for (int i = 0; i < cylinders; i++) {
    e->cylinder[i] = (struct ew_cycle_cylinder){firing_deg[i], s->bore, s->stroke, s->rod, 0,
                                                s->ratio,      1.15,    1,         460};
    e->valve[2 * i] = (struct ew_cycle_valve){"intake",
                                              i,
                                              FALSE,
                                              s->valves,
                                              s->in_head,
                                              360 - s->ivo,
                                              (180 + s->ivo + s->ivc) / (LIFTS - 1),
                                              LIFTS,
                                              e->intake_lift,
                                              G_N_ELEMENTS(engine_flow),
                                              engine_flow};
    e->valve[2 * i + 1] = (struct ew_cycle_valve){"exhaust",
                                                  i,
                                                  TRUE,
                                                  s->valves,
                                                  s->ex_head,
                                                  180 - s->evo,
                                                  (180 + s->evo + s->evc) / (LIFTS - 1),
                                                  LIFTS,
                                                  e->exhaust_lift,
                                                  G_N_ELEMENTS(engine_flow),
                                                  engine_flow};
    e->pipe[2 * i] = (struct ew_cycle_pipe){"runner",
                                            s->runner,
                                            3,
                                            e->intake,
                                            0,
                                            FALSE,
                                            {{EW_END_ATMOSPHERE, 0, 1}, {EW_END_VALVE, 2 * i, 0}}};
    e->pipe[2 * i + 1] =
        (struct ew_cycle_pipe){"primary",
                               s->primary,
                               2,
                               e->exhaust,
                               0,
                               TRUE,
                               {{EW_END_VALVE, 2 * i + 1, 0}, {EW_END_ATMOSPHERE, 0, 1}}};
  }
  e->model.cylinders = cylinders;
  e->model.valves = e->model.pipes = 2 * cylinders;
  e->model.cylinder = e->cylinder;
  e->model.valve = e->valve;
  e->model.pipe = e->pipe;
  e->model.volume = e->volume;
}

static inline void engine_single(struct engine *e, const struct engine_shape *s) {
  static const double firing[] = {0};
  engine_parts(e, s, 1, firing);
}

/* Runners in a plenum behind a throttle body; primaries in collectors of `banks` tail pipes. */
static inline void engine_manifolds(struct engine *e, double plenum_m3, double body_m,
                                    const int *bank_of, int banks, double tail_m) {
  struct ew_cycle_model *m = &e->model;
  e->volume[0] = (struct ew_cycle_volume){"plenum", plenum_m3, FALSE};
  m->volumes = 1;
  for (int i = 0; i < m->cylinders; i++) {
    e->pipe[2 * i].end[0] = (struct ew_cycle_end){EW_END_VOLUME, 0, 1};
    e->pipe[2 * i + 1].end[1] = (struct ew_cycle_end){EW_END_JUNCTION, bank_of[i], 0};
  }
  e->body[0] = (struct ew_cycle_station){0, body_m, NAN, 1};
  e->tail[0] = (struct ew_cycle_station){0, tail_m, NAN, 1};
  e->pipe[m->pipes++] = (struct ew_cycle_pipe){"throttle body",
                                               0.12,
                                               1,
                                               e->body,
                                               0,
                                               FALSE,
                                               {{EW_END_ATMOSPHERE, 0, 1}, {EW_END_VOLUME, 0, 1}}};
  for (int b = 0; b < banks; b++)
    e->pipe[m->pipes++] = (struct ew_cycle_pipe){
        "tail", 1.2, 1, e->tail, 0.3, TRUE, {{EW_END_JUNCTION, b, 0}, {EW_END_ATMOSPHERE, 0, 1}}};
  m->junctions = banks;
}

static inline void engine_four(struct engine *e, const struct engine_shape *s) {
  static const double firing[] = {0, 540, 180, 360};
  static const int bank[] = {0, 0, 0, 0};
  engine_parts(e, s, 4, firing);
  engine_manifolds(e, 3e-3, 0.062, bank, 1, 0.052);
}

/* Cross-plane V8, order 1-8-4-3-6-5-7-2, banks 1-3-5-7 and 2-4-6-8. */
static inline void engine_eight(struct engine *e, const struct engine_shape *s) {
  static const double firing[] = {0, 630, 270, 180, 450, 360, 540, 90};
  static const int bank[] = {0, 1, 0, 1, 0, 1, 0, 1};
  engine_parts(e, s, 8, firing);
  engine_manifolds(e, 6e-3, 0.09, bank, 2, 0.06);
}
