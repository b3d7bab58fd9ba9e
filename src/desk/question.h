/* The questions of the day, asked of loaded pulls: was that better, where is the best spark, may the
 * limit go up? Looks are counted and answers kept in the book. */
#pragma once
#include "desk/alike.h"
#include "judge/budget.h"
#include "judge/step_up.h"
#include "judge/sweep.h"

struct ew_question_options {
  double margin;     /* relative; NaN: 1 % for a comparison, 0.5 % for a sweep */
  int level;         /* enum ew_level; -1: as the pulls of the book stand to each other */
  const char *order; /* "ABAB" for files; NULL: A B A B ... */
  double band_low_rpm, band_high_rpm; /* NaN: by the method */
  gboolean named_only;                /* no other pulls of the book count (desk/fellows.h) */
  gboolean rested;                    /* stopped, or rested long, since the last pull */
  gboolean keep;                      /* write the answer into the book */
  guint despite;                      /* what may differ on purpose (judge/comparable.h) */
  const struct ew_speed_use *use;     /* what speeds weigh; NULL: alike (judge/speed_use.h) */
};

/* a, b: struct ew_loaded*; history: the same, in groups told by `history_group`. */
struct ew_comparison *ew_ask_compare(const struct ew_desk *desk, const GPtrArray *a,
                                     const GPtrArray *b, const GPtrArray *history,
                                     const GArray *history_group,
                                     const struct ew_question_options *options, GError **error);

/* Pulls that differ in spark or in lambda and in nothing else, but for what is in `despite`; reserve in the unit of the setting. */
struct ew_sweep *ew_ask_sweep(const struct ew_desk *desk, const GPtrArray *pulls,
                              enum ew_sweep_setting setting, double margin, double reserve,
                              const GPtrArray *history, const GArray *history_group, guint despite,
                              gboolean keep, GError **error);

/* `pull` is the last at its limit; `before` may be NULL: then the book's last sound pull below is taken. */
struct ew_step_up *ew_ask_step_up(const struct ew_desk *desk, const struct ew_loaded *pull,
                                  const struct ew_loaded *before, double next_rpm, gboolean keep,
                                  GError **error);

/* A kept answer in one line, in this thread's language: "compare, pulls 8, 10 against pull 9: ..." */
ew_message *ew_answer_message(const struct ew_verdict_row *row);
char *ew_answer_line(const struct ew_verdict_row *row, enum ew_unit_system units);

struct ew_budget ew_ask_budget(const struct ew_desk *desk, const struct ew_loaded *pull,
                               double speed_rpm);
