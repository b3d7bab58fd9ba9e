/* A question to the search for a combination, as one YAML file says it:
 *
 *   change:                              what may be turned: a name of `engine vary` or any figure of the engine's file
 *     - {field: runner_length, from: 250 mm, to: 400 mm}
 *     - {field: compression, from: 10, to: 12, step: 0.1}
 *     - {field: primary_diameter, values: [38 mm, 41 mm, 45 mm]}
 *   shelf:                               parts to choose from; one of each place is fitted
 *     - place: camshaft
 *       parts:
 *         - {name: mild, price: 310, set: {inlet.duration: 268 deg, inlet.lobe_lift: 7.1 mm}}
 *     - {place: header, parts: [long primaries, stepped]}     names alone: of the shop's shelf (shelf.h)
 *     - {place: head, parts: all}          all that the shelf has for the place
 *   want:                                one to four figures (ew_search_figures), each as much, or as little, as can be
 *     - {figure: torque, from: 3000 rpm, to: 6500 rpm}
 *     - {figure: price}
 *   limits:
 *     - {figure: octane, most: 98}
 *   envelope:                            what the chosen engine must stand, from one end to the other: weather, fuel, tolerance, wear
 *     - {field: air_temperature, from: -15 K, to: +15 K}
 *     - {field: inlet.lash, from: +0 mm, to: +0.08 mm}
 *   speeds: [3000 rpm, 4000 rpm, 5000 rpm, 6000 rpm, 7000 rpm]
 *   spark: mbt                           best (what the fuel allows), mbt, or a figure
 *
 * A figure that needs no run (price, piston speed, clearances) is judged before a design is run. */
#pragma once
#include "base/node.h"
#include "desk/variation.h"
#include "search/rounds.h"

/* key, kind (of the highest pressure the one that is shown in bar, not as the weather is), more of it is better, found without a run, EW_TEXT: what it is */
#define EW_SEARCH_FIGURES(X)                                                                       \
  X(TORQUE, "torque", EW_KIND_TORQUE, TRUE, FALSE,                                                 \
    EW_TEXT("mean torque from one speed to another"))                                              \
  X(POWER, "power", EW_KIND_POWER, TRUE, FALSE, EW_TEXT("greatest power at the speeds"))           \
  X(OCTANE, "octane", EW_KIND_NUMBER, FALSE, FALSE,                                                \
    EW_TEXT("octane number asked for, at the speed that asks for most; with spark: mbt"))          \
  X(FUEL, "fuel", EW_KIND_SPECIFIC_FUEL, FALSE, FALSE,                                             \
    EW_TEXT("fuel for the work done, mean from one speed to another"))                             \
  X(RESIDUAL, "residual", EW_KIND_RATIO, FALSE, FALSE,                                             \
    EW_TEXT("burnt gas left in the charge at the idle speed, throttle open: it ranks how it will " \
            "idle, no more"))                                                                      \
  X(PEAK_PRESSURE, "peak_pressure", EW_KIND_MEAN_EFFECTIVE_PRESSURE, FALSE, FALSE,                 \
    EW_TEXT("highest cylinder pressure of the mean cycle"))                                        \
  X(EXHAUST, "exhaust_temperature", EW_KIND_TEMPERATURE, FALSE, FALSE,                             \
    EW_TEXT("hottest reading of a thermocouple in the exhaust"))                                   \
  X(PRICE, "price", EW_KIND_NUMBER, FALSE, TRUE,                                                   \
    EW_TEXT("sum of the parts chosen from the shelf"))                                             \
  X(PISTON_SPEED, "piston_speed", EW_KIND_SPEED, FALSE, TRUE,                                      \
    EW_TEXT("mean piston speed at the highest speed"))                                             \
  X(INLET_CLEARANCE, "inlet_clearance", EW_KIND_LENGTH, TRUE, TRUE,                                \
    EW_TEXT("least distance of inlet valve and piston, with the lash at no load"))                 \
  X(EXHAUST_CLEARANCE, "exhaust_clearance", EW_KIND_LENGTH, TRUE, TRUE,                            \
    EW_TEXT("the same of the exhaust valve"))                                                      \
  X(CONTACT_LOSS, "contact_loss", EW_KIND_ROTATIONAL_SPEED, TRUE, TRUE,                            \
    EW_TEXT("speed at which the first valve loses its lobe"))
enum ew_search_figure {
#define X(id, key, kind, more, early, help) EW_SEARCH_##id,
  EW_SEARCH_FIGURES(X)
#undef X
      EW_SEARCH_FIGURES_COUNT
};
struct ew_search_figure_about {
  const char *key, *help;
  enum ew_kind kind;
  gboolean more, early;
};
extern const struct ew_search_figure_about ew_search_figures[EW_SEARCH_FIGURES_COUNT];

enum ew_search_axis_kind { EW_AXIS_RANGE, EW_AXIS_VALUES, EW_AXIS_PARTS };
struct ew_search_part {
  char *name;
  double price; /* NaN when none is given */
  GArray *set;  /* struct ew_variation */
};
struct ew_search_axis {
  enum ew_search_axis_kind kind;
  char *name;                   /* of the field, or of the place on the shelf */
  struct ew_variation from, to; /* of a range: first and last */
  int places;                   /* 0: anything between */
  GArray *values;               /* struct ew_variation */
  GPtrArray *parts;             /* struct ew_search_part */
};

/* One figure that is wanted or limited: what, and over which speeds. */
struct ew_search_wish {
  enum ew_search_figure what;
  double from_rpm, to_rpm; /* of torque and fuel; NaN: all speeds */
  gboolean wanted, more;
  double least, most; /* limits; infinite: none */
};

#define EW_ENVELOPE_MOST 4 /* ranges of the envelope: sixteen corners */
struct ew_search_question {
  GPtrArray *axes;     /* struct ew_search_axis */
  GPtrArray *envelope; /* struct ew_search_axis, ranges */
  GArray *wishes;      /* struct ew_search_wish: those wanted first */
  int wanted;
  GArray *speeds;  /* double, rpm, rising; NULL: not given */
  double idle_rpm; /* NaN: the engine's */
  double spark_deg;
  int spark;              /* enum ew_cycle_spark */
  const GPtrArray *shelf; /* only while it is read */
};

/* Refuses what it cannot understand, with the file, the line and what may be written there. The struct then holds nothing. shelf: of the shop's
 * book; NULL: there is no book. */
gboolean ew_search_question_read(const struct ew_node *root, const char *where,
                                 const GPtrArray *shelf, struct ew_search_question *question,
                                 GError **error);
/* Whether it names parts, so that a book is needed to read it. */
gboolean ew_search_question_names_parts(const struct ew_node *root);
void ew_search_question_clear(struct ew_search_question *question);

/* The variations that a point stands for, appended to `set` (its texts are the array's own), and what its parts cost. */
double ew_search_point_is(const struct ew_search_question *question, const double *point,
                          GArray *set);
/* An axis's own words for a point: "runner_length 312 mm", "camshaft: mild". g_free. */
char *ew_search_axis_says(const struct ew_search_axis *axis, double coordinate);
/* For rounds.h; axes[question->axes->len]. */
void ew_search_axes(const struct ew_search_question *question, struct ew_axis *axes);

/* Corners of the envelope: each of its ranges at one end or the other. 0: none was given. */
int ew_search_corners(const struct ew_search_question *question);
/* The changes of a corner, appended to `set`. */
void ew_search_corner_is(const struct ew_search_question *question, int corner, GArray *set);
/* "air_temperature +15.0 K, inlet.lash +0.08 mm"; g_free. */
char *ew_search_corner_says(const struct ew_search_question *question, int corner);
