/* Was that better? Two sides of one or more pulls, judged in the order safe, valid, better, worth it. */
#pragma once
#include "judge/band.h"
#include "judge/comparable.h"
#include "judge/decide.h"
#include "judge/effects.h"
#include "judge/speed_use.h"

struct ew_compared_pull {
  const struct ew_curve *curve;
  const struct ew_setup *setup; /* may be NULL */
  int side;                     /* 0 A, 1 B, 2 and above: a history group */
  double position;
  const struct ew_pull_facts *facts; /* NULL: curve and set-up are all that is known */
  gint64 id;                         /* in the book; 0: a file */
};

struct ew_compare_options {
  double margin;       /* relative; 0: never say same */
  enum ew_level level; /* what lay between the sides */
  int looks_before;
  gboolean looks_counted; /* by the book: this look may not be the last */
  const struct ew_spread
      *history; /* from the book; NULL: from the history groups among the pulls */
  const struct ew_spread *consecutive;  /* of pulls without a stop between; NULL: not known */
  double band_low_rpm, band_high_rpm;   /* agreed band; NaN: by the method */
  double drift_mean, drift_sd;          /* a pull, from history; NaN: not known */
  double minutes_a_pull, litres_a_pull; /* for the cost; NaN: 3.5 and not told */
  gboolean breaking_in;                 /* three like pulls in a row do not agree */
  guint despite;                        /* what may differ on purpose (judge/comparable.h) */
  const struct ew_effects *effects; /* what conditions do, learned; NULL: nothing is taken out */
  const struct ew_speed_use *use;   /* what speeds weigh; NULL: alike (judge/speed_use.h) */
  const ew_message *look_first; /* an open trip: nothing is safe before somebody looked; or NULL */
};

struct ew_day_opinion;
struct ew_next;

/* A pull of the question, in the order they ran, and what it weighs in the difference: -1 in all for A, +1 for B. */
struct ew_weight {
  int side;
  gint64 id; /* 0: a file */
  double position, weight;
};

struct ew_comparison {
  enum ew_verdict verdict;
  gboolean real_but_small;
  double difference, low, high; /* relative: 0.01 is 1 % */
  double confidence;            /* of the interval, 0.95 unless looked before */
  double margin, sd, freedom, smallest_margin;
  double sd_freedom; /* of sd alone; `freedom` is that of the interval, which holds more than sd */
  double band_low_rpm, band_high_rpm, mean_a_n_m, mean_b_n_m;
  int n_a, n_b, pulls_needed; /* in all, both sides; 0 when settled or when none would do */
  char *next_order;           /* "B A", or NULL */
  double cost_minutes, cost_litres, cost_seconds_high;
  gboolean unsafe; /* knock, something seen on side B, or an open trip: torque does not count */
  ew_message *safe, *valid, *better, *worth; /* the answers; never NULL */
  ew_message *invalid;                       /* why not comparable; NULL: they are */
  guint may_ask;       /* facts that can be asked about on purpose (judge/comparable.h); 0: none */
  ew_message *danger;  /* what is not safe; NULL: nothing */
  GPtrArray *warnings; /* of messages */
  GPtrArray *notes;    /* of messages: what was taken out, what else counts */
  struct ew_effects_told
      conditions;      /* what conditions did; `asked` FALSE: nothing is known of them */
  gsize effects_pulls; /* that their effects were learned from */
  struct ew_weight *weight;
  gsize weights;
  struct ew_band band;
  gsize points;
  double *speed_rpm; /* of the band */
  enum ew_level level;
  gboolean history_borrowed;
  struct ew_next *next; /* what to run next (judge/next.h); owned; NULL: not asked */
  struct ew_day_opinion
      *day; /* what all pulls of the day say of it (judge/day_opinion.h); owned; NULL: not asked, or
                               * nothing */
};

struct ew_comparison *ew_compare(const struct ew_compared_pull *pulls, gsize n,
                                 const struct ew_compare_options *options, GError **error);
void ew_comparison_free(struct ew_comparison *comparison);
void ew_comparison_write_json(const struct ew_comparison *comparison, struct ew_json *json);
/* "+0.9 % (-0.2 % to +2.0 %), 4,500 rpm to 7,000 rpm: can't tell yet; 2 more pulls would settle it, B A; 7 min": the
 * answer in one line, as what is kept of it; its argument `verdict` is the word of the verdict. */
ew_message *ew_comparison_says(const struct ew_comparison *comparison);
extern const struct ew_message_kind ew_judge_says;
/* The same in this thread's language. */
char *ew_comparison_line(const struct ew_comparison *comparison);
