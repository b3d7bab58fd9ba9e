/* What today's pulls say of set-up 1 less set-up 0 when any one of them may be wrong: a misfire, a tank that ran low, a shifted sensor.
 *
 *   pull i of today is wrong with a chance of 2 %: it then scatters by 5 s more, whatever else holds
 *
 * One of today's pulls at the most: so today has as many explanations as pulls and one more, each exact given a point of the grid. The
 * belief is the mixture of them all, weighed by how well each explains what came. A pull far from the others so loses its weight by itself,
 * and two that disagree leave the answer open until the next says which.
 *
 * Costs: O(pulls of today) times 192 points: once there and once back over the day; 40 kB a pull while it is worked out. */
#pragma once
#include "judge/day_model.h"

typedef struct ew_day_answer ew_day_answer;
/* `before`: the model when today began (history lent), not changed. `pulls`: today's, in the order they ran; one that the model
 * does not take (no figure) explains nothing and is never wrong. Set-ups 0 and 1 should both be among them. */
struct ew_day_answer *ew_day_answer_new(const struct ew_day_model *before,
                                        const struct ew_day_pull *pulls, gsize n);
void ew_day_answer_free(struct ew_day_answer *answer);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_day_answer, ew_day_answer_free)

/* Of set-up 1 less set-up 0, as log ratios. */
struct ew_day_belief ew_day_answer_believe(const struct ew_day_answer *answer);
/* P(difference <= x). */
double ew_day_answer_below(const struct ew_day_answer *answer, double x);
/* Where that is p, 0 < p < 1. */
double ew_day_answer_quantile(const struct ew_day_answer *answer, double p);

/* How far pull i (0 to n - 1) of set-up 0 or 1 is from what all others say of it, in standard deviations: as if it were a set-up
 * of its own, how far that lies from its set-up. 0: it has no fellow today, or is of another set-up. */
double ew_day_answer_apart(const struct ew_day_answer *answer, gsize i);
/* The chance that pull i is the wrong one: 0 to 1. */
double ew_day_answer_wrong(const struct ew_day_answer *answer, gsize i);
/* The pull that is more than three standard deviations apart and whose set-up has not run again since, the farthest of them; n: none.
 * Nothing should be said before it has. */
gsize ew_day_answer_repeat(const struct ew_day_answer *answer);
