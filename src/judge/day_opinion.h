/* What all pulls of an engine's days say of one question: the second opinion beside the plain answer, by the day's model
 * (judge/day_model.h). It is said with the answer and never takes its place: where the two lie further apart than two
 * standard errors both are said, with the pulls that do not fit. */
#pragma once
#include "base/message.h"
#include "judge/compare.h"
#include "judge/day_model.h"

struct ew_day_told {
  struct ew_day_pull pull; /* side A is set-up 0, B is 1, others of its day follow */
  const ew_message *name;  /* "pull 12", borrowed; NULL: not named */
  gint64 id;               /* in the book; 0: not of one */
  gboolean today;          /* of the day of the question; all of these come last */
};

struct ew_day_opinion {
  enum ew_verdict verdict;
  double difference, low, high; /* relative, at the confidence of the plain answer */
  double better;                /* probability that B is above A */
  double sd, walk, jump;        /* relative: of one pull, of the level a pull and a stop */
  double slope;                 /* relative, a pull */
  guint pulls, pulls_today, days;
  double shift
      [EW_DAY_COVARIATES]; /* relative: what the sides' conditions did to B less A; 0: the same, or not known */
  double change
      [EW_DAY_COVARIATES]; /* B less A, K or per cent of humidity; NaN: not known on both sides */
  int misfit_side;    /* of the pull that fits nothing and is asked for again, 0 or 1; -1: none */
  gint64 misfit_pull; /* its number in the book; 0: not of one, or none */
  gboolean apart;     /* from the plain answer, by more than two standard errors */
  ew_message *says;
  GPtrArray *notes; /* messages: what conditions did, what does not fit, what was assumed */
};

/* The pulls in the order they ran, B and A both among today's; `plain` is the answer that it stands beside. NULL: the
 * sides are not both among today's pulls, or the plain answer is that they are not comparable. */
struct ew_day_opinion *ew_day_opinion(const struct ew_day_told *pulls, gsize n,
                                      const struct ew_comparison *plain);
void ew_day_opinion_free(struct ew_day_opinion *opinion);
void ew_day_opinion_write_json(const struct ew_day_opinion *opinion, struct ew_json *json);
