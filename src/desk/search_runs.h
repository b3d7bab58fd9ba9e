/* Designs of a search run by the cycle simulation, and what is kept of each run. Inside desk/search. */
#pragma once
#include "desk/search.h"

struct ew_search_runs {
  const struct ew_search_setup *setup;
  struct ew_search_answer *answer;
  struct ew_cycle_options options; /* of these runs: coarse or fine */
  struct ew_cycle_plan *like;      /* the engine as it is, at these cells */
  struct ew_kept_file *keep;
  int barred[EW_FIGURES_MOST]; /* points that each early limit barred, by itself or with others */
  double nearest[EW_FIGURES_MOST]; /* the nearest that any came to it */
  const GArray *more;              /* changes that each design has on top of its own; NULL: none */
  int refused;                     /* points whose engine cannot be built at all */
  char *refusal;                   /* the first one's words */
  /* Told of each run as it would be kept, those that were kept before too; NULL: nobody. */
  void (*tell)(const struct ew_kept_line *run, gpointer data);
  gpointer tell_data;
};
gboolean ew_search_runs_begin(struct ew_search_runs *runs, const struct ew_search_setup *setup,
                              struct ew_search_answer *answer, double cell_m, GError **error);
void ew_search_runs_end(struct ew_search_runs *runs);

/* Whether two points differ in a figure that is asked for and needs no run; TRUE also where it cannot be worked out. */
gboolean ew_search_early_differs(const struct ew_search_runs *runs, const double *a,
                                 const double *b);

/* For rounds.h; data: struct ew_search_runs. */
gboolean ew_search_allowed(const double *point, gpointer data);
gboolean ew_search_run_points(const double *points, int n, double *figures, gboolean *sound,
                              gpointer data, GError **error);
/* The engine as it is: no changes. */
gboolean ew_search_run_base(struct ew_search_runs *runs, double *figures, gboolean *sound,
                            GError **error);

/* A question made ready: speeds, the engine as it is, what is asked, axes checked. The caller ends runs and clears the answer, come what may. */
gboolean ew_search_prepare(const struct ew_search_setup *setup, struct ew_search_runs *runs,
                           struct ew_search_answer *answer, GError **error);
/* FALSE with *error: which limit barred most designs before they were run, and how near any came. */
gboolean ew_search_none_allowed(const struct ew_search_runs *runs, GError **error);

/* What a piece of work is, so that only those who do the same share it. */
struct ew_search_names {
  char key[65],
      question
          [65]; /* of all that its runs depend on; of what is asked of which engine, whatever runs it */
};
/* points[n x axes]: the first designs; each: of them a task. */
void ew_search_names_of(const struct ew_search_runs *runs, const double *points, int n, int each,
                        struct ew_search_names *names);

/* The last look (search_look.c): the front of a search that was run on fine cells, alike ones told as one, and at the corners of the envelope. */
gboolean ew_search_look(struct ew_search_runs *coarse, GError **error);
void ew_search_member_clear(gpointer member);
