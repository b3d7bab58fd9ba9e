/* Rows of designs for search_bench.c: kept as text, and judged. */
#pragma once
#include "desk/search.h"
#include "desk/search_question.h"

struct rows {
  int count, axes, wishes;
  double *point, *figure;
  gboolean *sound;
  int *round;
  gsize bytes; /* of whole rows */
};

/* Whole rows of a file, up to the first that is not; none where there is no file. */
void rows_read(const char *path, int axes, int wishes, struct rows *rows);
/* Cuts off what is behind them. */
void rows_mend(const char *path, const struct rows *rows);
void rows_clear(struct rows *rows);
void rows_add(const char *path, int first, int stride, int round, const double *points,
              const double *figures, const gboolean *sound, int count, int axes, int wishes);

/* path[0]: the grid's rows; path[1...]: those of searches, a seed each. Printed:
 *   where two things are wanted, the share of the front's volume after so many designs, of searches and of the grid's first ones
 *   where one is wanted, how far the best within the limits is from the best of all
 *   what was learned from the first designs, held against all of the grid: R², and how many lie in the 95 % band */
int rows_judge(const struct ew_search_question *question, char **path, int paths);
/* Two grids of the same designs, by other cells, precision or machine: correlation of ranks (Spearman), relative differences. */
int rows_compare(const struct ew_search_question *question, char **path);
/* The same search by `seeds` seeds from the setup's on, of a process learned from the grid (search_rehearse.c); 2: too few rows. */
int rows_rehearse(const struct ew_search_question *question, const char *path,
                  const struct ew_search_setup *setup, int seeds);
