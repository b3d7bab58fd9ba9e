/* The table of kinds of heads; see the header for where its figures come from. */
#include "cycle/head_kind.h"
#include "base/language.h"
#include <math.h>

/* Inlet valves flow a little worse backwards; exhaust valves are taken alike both ways. */
#define BACK 0.93
#define IN(lift, share)                                                                            \
  { lift, share, BACK *(share) }
#define OUT(lift, share)                                                                           \
  { lift, share, share }
#define INLET(a, b, c, d, e, f, g)                                                                 \
  { IN(.05, a), IN(.10, b), IN(.15, c), IN(.20, d), IN(.25, e), IN(.30, f), IN(.35, g) }
#define EXHAUST(a, b, c, d, e, f, g)                                                               \
  { OUT(.05, a), OUT(.10, b), OUT(.15, c), OUT(.20, d), OUT(.25, e), OUT(.30, f), OUT(.35, g) }

static const struct ew_head_traits two_valves = {EW_TEXT("two valves in a wedge"),
                                                 1,
                                                 0.46,
                                                 0.40,
                                                 1,
                                                 1,
                                                 1.15,
                                                 INLET(.13, .256, .354, .416, .46, .486, .50),
                                                 EXHAUST(.15, .286, .396, .472, .52, .552, .57)};
static const struct ew_head_traits hemi = {EW_TEXT("two inclined valves"),
                                           1,
                                           0.50,
                                           0.43,
                                           1,
                                           1,
                                           1.30,
                                           INLET(.14, .272, .378, .448, .50, .528, .54),
                                           EXHAUST(.16, .30, .42, .504, .56, .60, .62)};
static const struct ew_head_traits four_valves = {EW_TEXT("four valves"),
                                                  2,
                                                  0.385,
                                                  0.33,
                                                  1.15,
                                                  1,
                                                  1.25,
                                                  INLET(.15, .29, .40, .475, .525, .555, .57),
                                                  EXHAUST(.16, .30, .42, .504, .56, .60, .62)};
/* the flow turns twice; the chamber is long, flat and slow */
static const struct ew_head_traits side_valves = {"side valves",
                                                  1,
                                                  0.46,
                                                  0.42,
                                                  1,
                                                  1.3,
                                                  2.0,
                                                  INLET(.12, .21, .26, .28, .29, .295, .30),
                                                  EXHAUST(.12, .21, .26, .28, .29, .295, .30)};

const struct ew_head_traits *ew_head_traits_of(enum ew_head_kind kind, int valves) {
  switch (kind) {
  case EW_HEAD_SIDE_VALVES: return &side_valves;
  case EW_HEAD_HEMI: return &hemi;
  case EW_HEAD_WEDGE: return &two_valves;
  case EW_HEAD_FOUR_VALVES: return &four_valves;
  case EW_HEAD_NOT_STATED:
  case EW_HEAD_KINDS: break;
  }
  return valves > 1 ? &four_valves : &two_valves;
}

double ew_head_size_factor(double rated_piston_speed_m_s) {
  return isnan(rated_piston_speed_m_s) ? 1 : CLAMP(sqrt(rated_piston_speed_m_s / 14), 0.88, 1.13);
}
