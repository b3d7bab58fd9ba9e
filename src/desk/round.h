/* A reference engine that travels: run in each of the shop's cells and in the first again, it tells how far cells differ (judge/between.h), and only
 * then are pulls of different cells set beside each other.
 *
 *   plan: which engine, which cells in which order, how many pulls a visit (the same plan in each cell's book)
 *     -> visit: pulls of this cell's own book -> ... -> the first cell again
 *     -> gathered from all books: ISO 5725-2's figures -> comparisons across cells
 *
 * A plan with its visits is a setting of the book (`round NAME`), so it goes to the shop as every setting does. Cells are named as their
 * record (`name` of the cell) names them. A plan is not changed; another one is another name.
 *
 * A book is refused whose pulls are not what the plan says: another engine, another cell, fewer pulls, held or discarded ones, or pulls of a visit that
 * are not alike. Costs: a curve a pull of the round, each time it is gathered. */
#pragma once
#include "desk/question.h"
#include "judge/between.h"

#define EW_ROUND_PULLS_MOST 20 /* a visit */

struct ew_round_visit {
  GArray *pulls; /* gint64, of the book */
  char *at, *who;
};
struct ew_round {
  char *name, *engine, *at, *who;
  GPtrArray *cells;  /* char*, in the order of the visits */
  int pulls;         /* a visit, at least */
  GPtrArray *visits; /* struct ew_round_visit*, of this book, as they were made */
};
void ew_round_free(struct ew_round *round);
typedef struct ew_round ew_round; /* for g_autoptr only */
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_round, ew_round_free)

/* Refused when the book has another plan of that name; *added FALSE: the very same is there. `at`, `who`, `visits` of the plan are not
 * read. */
gboolean ew_round_begin(const struct ew_desk *desk, const struct ew_round *plan, gboolean *added,
                        GError **error);
/* Pulls of this book are the next visit of this cell. */
gboolean ew_round_visit(const struct ew_desk *desk, const char *name, const GArray *pulls,
                        GError **error);
/* Refused when the book has none of that name. */
struct ew_round *ew_round_load(struct ew_book *book, const char *name, GError **error);
/* What a pull repeats to in this cell without a stop between, and so how far two cells can be told apart; freedom 0: not known yet. */
struct ew_spread ew_round_repeats(const struct ew_desk *desk);

/* The visits of all books. */
struct ew_round_seen {
  struct ew_round *plan;
  gsize count[EW_BETWEEN_CELLS_MOST]; /* pulls of each cell's visit; 0: not run yet */
  gsize back;                         /* of the first cell's second one */
  double band_low_rpm, band_high_rpm;
  gboolean whole; /* every cell, and back again: `between` is filled */
  struct ew_between between;
};
/* desks: of the books, each of one cell, in any order; those that are missing count as not run yet. Refused when their plans differ. */
gboolean ew_round_gather(struct ew_desk *const *desks, gsize count, const char *name,
                         struct ew_round_seen *seen, GError **error);
void ew_round_seen_clear(struct ew_round_seen *seen);
/* "Cell 2", "Cell 1 again": what is to be run next, to be freed; NULL: nothing. */
char *ew_round_next(const struct ew_round_seen *seen);

/* Pulls `a` of one cell against pulls `b` of another (struct ew_loaded*, each of its own desk). Refused without a whole round that covers both cells,
 * with what to run. The answer is not kept. */
struct ew_comparison *ew_round_compare(const struct ew_desk *desk_a, const GPtrArray *a,
                                       const struct ew_desk *desk_b, const GPtrArray *b,
                                       const struct ew_round_seen *seen, double margin,
                                       GError **error);
