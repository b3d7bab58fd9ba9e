/* Which of many are worth a look when several things are wanted: the front, those that no other beats in everything.
 *
 * Everywhere in this room less is better: who wants more of a figure gives it with its sign turned. A figure that is NaN
 * is worse than any other, and so is its owner. */
#pragma once
#include <glib.h>

#define EW_GOALS_MOST 4

/* Is a as good as b in everything and better in something? `worse`: how far each is beyond its limits (0: within); who is
 * within beats who is not, and of two that are not the nearer one beats the other (K. Deb and others, "A fast and elitist
 * multiobjective genetic algorithm: NSGA-II", IEEE Trans. Evol. Comput. 6 (2002), 182-197, section VI). */
gboolean ew_dominates(const double *a, double a_worse, const double *b, double b_worse, int goals);

/* rank[n]: 0 for the front, 1 for the front without those, and so on (same paper, section III A). O(goals n²). */
void ew_front_ranks(const double *figures, const double *worse, int n, int goals, int *rank);
/* The front alone: member[n], by going through them in the order of the first goal; returns how many. O(n log n + n times the
 * front's size): for a hundred thousand, where ranks are not wanted. `worse` may be NULL: all within. */
int ew_front_of(const double *figures, const double *worse, int n, int goals, gboolean *member);
/* room[n]: how far a member is from its neighbours of the same rank, the ends infinite (section III B). O(goals n log n). */
void ew_front_room(const double *figures, const int *rank, int n, int goals, double *room);

/* The volume between the points and the reference, of points that are better than it in everything; exact, by slicing
 * (L. While, P. Hingston, L. Barone, S. Huband, "A faster algorithm for calculating hypervolume", IEEE Trans. Evol. Comput. 10
 * (2006), 29-38). O(n log n) for two goals, a power of n more for each further one. */
double ew_front_volume(const double *figures, int n, int goals, const double *reference);
