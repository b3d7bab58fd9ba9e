/* See broken.h. Each one steps with "base" and then spoils a little. */
#include "broken.h"
#include <math.h>

#define BASE (ew_cycle_backends[0])

static gboolean always(void) {
  return TRUE;
}
static struct ew_cycle_work *open_base(const struct ew_cycle_backend *self,
                                       const struct ew_cycle_laid *shape) {
  (void)self;
  return BASE->open(BASE, shape);
}
static void load_base(struct ew_cycle_work *w, int l, const struct ew_cycle_laid *laid,
                      double rpm) {
  BASE->load(w, l, laid, rpm);
}
static void effort_base(const struct ew_cycle_work *w, double seconds[3]) {
  BASE->effort(w, seconds);
}
static void close_base(struct ew_cycle_work *w) {
  BASE->close(w);
}

static gboolean runs(const struct ew_cycle_state *s, int l) {
  return ew_state_run(s, EW_RUN_RUNNING)[l] != 0;
}
static double *some_mass(const struct ew_cycle_state *s) {
  return ew_state_at(s, EW_STATE_CELLS, EW_MASS, ew_state_cell(s, 0, 1));
}

static void one_lane_is_worse(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  BASE->step(w, s, n);
  if (runs(s, 5))
    some_mass(s)[5] = nextafter(some_mass(s)[5], 0);
}
static void lanes_talk(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  BASE->step(w, s, n);
  if (runs(s, 0) && runs(s, 1))
    some_mass(s)[0] = nextafter(some_mass(s)[0], 0);
}
static void calls_matter(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  BASE->step(w, s, n);
  if (runs(s, 0) && n == 7)
    some_mass(s)[0] = nextafter(some_mass(s)[0], 0);
}
static void one_too_many(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  BASE->step(w, s, n + 1);
}
static void rest_is_touched(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  BASE->step(w, s, n);
  for (int l = 0; l < EW_LANES; l++)
    if (!runs(s, l))
      ew_state_at(s, EW_STATE_ENDS, EW_ENDS_MEMORY, 0)[l] += 1e-9;
}
static void leaks(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  BASE->step(w, s, n);
  for (int l = 0; l < EW_LANES; l++)
    if (runs(s, l))
      some_mass(s)[l] *= 1 - 1e-8;
}
/* Keeps a figure of its own beside the state, so that a run cannot be gone on with elsewhere. */
static void remembers(struct ew_cycle_work *w, struct ew_cycle_state *s, int n) {
  double steps = ew_state_run(s, EW_RUN_STEPS_HERE)[0];
  static double last;
  BASE->step(w, s, n);
  if (runs(s, 0) && steps > 0 && last != steps)
    some_mass(s)[0] = nextafter(some_mass(s)[0], 0);
  last = ew_state_run(s, EW_RUN_STEPS_HERE)[0];
}

#define ENTRY(text, what)                                                                          \
  {                                                                                                \
    text, {                                                                                        \
#what, 0, always, open_base, load_base, what, effort_base, close_base                        \
    }                                                                                              \
  }
struct broken broken[BROKEN] = {
    ENTRY("one lane is off by a bit", one_lane_is_worse),
    ENTRY("a lane is off by a bit when another runs too", lanes_talk),
    ENTRY("calls of seven steps are off by a bit", calls_matter),
    ENTRY("it makes one step too many", one_too_many),
    ENTRY("it writes into lanes at rest", rest_is_touched),
    ENTRY("it leaks a little mass", leaks),
    ENTRY("it remembers more than the state", remembers),
};
