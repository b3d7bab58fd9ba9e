/* The search for a combination: a question (search_question.h) about an engine, answered by rounds (search/rounds.h) whose
 * designs are run by the cycle simulation; the front is run once more on fine cells.
 *
 *   question, engine -> axes checked -> rounds of designs (coarse cells) -> front
 *     -> (fine cells) the engine as it is, some of the first designs -> what a difference is worth -> front, those alike told as one -> each
 *     of these -> each at the corners of the envelope (coarse cells again)
 *
 * With a file of kept runs a search that was stopped, or another question about the same engine, takes what was run already.
 * Uncertainty of a difference between two combinations is learned from some of the first designs, which are unlike one another as a front's
 * members are not: fine and coarse cells are two answers to each. As cells leave an error of the square of their length, the fine ones keep a
 * third of what is seen, of half the length (L. F. Richardson, Phil. Trans. A 210 (1911), 307-357); what the tolerance of convergence leaves comes
 * on top. */
#pragma once
#include "base/json_writer.h"
#include "desk/kept_file.h"
#include "desk/predict.h"
#include "desk/search_question.h"

struct ew_search_setup {
  struct ew_prediction_setup setup; /* engine, tune, air; no variations */
  const struct ew_search_question *question;
  struct ew_cycle_options options; /* coarse; threads, progress and cancel */
  double fine_cell_m;              /* of the last look; NaN: half the coarse ones */
  guint64 seed;
  int first, rounds, batch;
  const char *keep; /* NULL: none */
};
#define EW_SEARCH_COVER     1.96                    /* standard uncertainties: 95 % */
#define EW_SEARCH_RUNS_HEAD "# enginewright runs 1" /* first line of a file of kept runs */
void ew_search_setup_defaults(struct ew_search_setup *setup);

/* Some of the question's wishes: limits that hold a combination, or that it breaks. */
struct ew_search_limits {
  const struct ew_search_wish *of[EW_FIGURES_MOST];
  int count;
};
struct ew_search_member {
  int design;      /* of found */
  double *figures; /* as fine cells have them, a wish each; NaN where it did not settle */
  gboolean settled;
  struct ew_search_limits held;   /* limits that it is within one band of: why not more */
  struct ew_search_limits beyond; /* limits that coarse cells had it within, and fine ones beyond */
  int alike;                      /* combinations that cannot be told from it, itself too */
  double low[EW_AXES_MOST], high[EW_AXES_MOST]; /* where those lie on the axes */
  guint places[EW_AXES_MOST];                   /* the same of an axis without order: bits */
  /* corners x wishes: its figures there (as fine cells would have them: what the corner changes is of coarse ones), NaN where it does not
   * settle. NULL: no envelope was asked for. */
  double *corner;
  gboolean stands; /* within all limits at every corner */
  gboolean
      stays_best; /* and at none is another, that keeps them too, better beyond doubt in everything wanted */
};
struct ew_search_reason { /* designs that could not be run */
  char *kind, *says;      /* a message's identifier, or a refusal; the first one's words */
  int count;
};
struct ew_search_answer {
  struct ew_search_ask ask; /* as put to the rounds; its arrays are the answer's */
  struct ew_search_found found;
  int wishes;
  double *base; /* the engine as it is, fine cells; a wish each */
  gboolean base_settled;
  struct ew_search_limits base_beyond;
  GArray *members; /* struct ew_search_member, by the first goal, best first */
  double *
      difference_u; /* standard uncertainty of a difference between two of the front, a wish each; NaN: not known, too few settled */
  /* wishes x axes: what each figure hangs on; all 0 where it was not learned, or does not vary */
  struct ew_influence *influence;
  int corners;     /* of the envelope; 0: none was asked for */
  GArray *reasons; /* struct ew_search_reason */
  int speeds;
  double *speed_rpm;
  double idle_rpm; /* NaN: not run */
  gboolean keeping;
  struct ew_kept_counts kept;
};
/* FALSE: refused, cancelled, or (code EW_ERROR_NO) no design is within the limits; then *error names the limit that holds, and
 * by how much. */
gboolean ew_search(const struct ew_search_setup *setup, struct ew_search_answer *answer,
                   GError **error);
/* One worker's share of the first designs: those whose number leaves `shard` (0 to shards - 1) when divided by `shards`, run into the
 * file of kept runs, which the setup must name. A design is a function of the question, the seed and its number, so the workers need
 * not know of each other; one that died is started again, and runs what is not in its file yet. Their files are collected
 * (kept_collect.h), and the search itself, asked with that file, takes its first designs from there. */
struct ew_search_share {
  int designs, of, unsound;
  struct ew_kept_counts kept;
};
gboolean ew_search_share(const struct ew_search_setup *setup, int shard, int shards,
                         struct ew_search_share *share, GError **error);

/* The same where somebody else hands the designs out, some at a time: task k is `each` of the first designs from number k x each on. */
struct ew_search_tasks {
  int each;
  /* What the work is (one digest with engine, air, cells, program; one of the question alone), and how many tasks. */
  gboolean (*begin)(const char *key, const char *question, int tasks, gpointer data,
                    GError **error);
  /* *task -1: all are done. It may wait. */
  gboolean (*next)(int *task, gpointer data, GError **error);
  /* lines: the task's runs as a file of kept runs has them, with newlines between. */
  gboolean (*done)(int task, const char *lines, gpointer data, GError **error);
  void (*failed)(int task, const char *why, gpointer data); /* and the work ends */
  gpointer data;
};
gboolean ew_search_leased(const struct ew_search_setup *setup, const struct ew_search_tasks *tasks,
                          struct ew_search_share *share, GError **error);
/* Even designs alone, for maps and to hold a front against: number first, first + stride, ... (ew_space_point of the setup's seed), on
 * the axes' places, whether allowed or not. points[count x axes], figures[count x wishes] by coarse cells, sound[count]. */
gboolean ew_search_even(const struct ew_search_setup *setup, guint64 first, guint64 stride,
                        int count, double *points, double *figures, gboolean *sound,
                        GError **error);
/* Whether an axis with an order matters to what is wanted, and a member (those alike with it, too) lies at one of its ends: beyond may be better. */
gboolean ew_search_at_end(const struct ew_search_setup *setup,
                          const struct ew_search_answer *answer,
                          const struct ew_search_member *member, int axis);
#define EW_SEARCH_MATTERS                                                                          \
  0.05 /* of what a figure varies by: less is not worth a wider range; common practice, no source */
/* An axis's own words for all that are alike: "runner_length 349 mm to 352 mm", "camshaft: mild, long". g_free. */
char *ew_search_member_says(const struct ew_search_setup *setup,
                            const struct ew_search_answer *answer,
                            const struct ew_search_member *member, int axis);
/* Which of the members to show of a long list: `most` of them, as unlike one another as can be. shown[members] */
void ew_search_shown(const struct ew_search_answer *answer, int most, gboolean *shown);
void ew_search_answer_clear(struct ew_search_answer *answer);
void ew_search_answer_write_json(const struct ew_search_setup *setup,
                                 const struct ew_search_answer *answer, struct ew_json *json);
