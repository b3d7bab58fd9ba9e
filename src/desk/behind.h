/* What lies behind a kept answer: what each pull weighs, what conditions did, what all pulls of the day said, what was assumed, and
 * what was to be run next. Read from the answer as it was kept, so that it tells what was known then; nothing is asked again. */
#pragma once
#include "base/message.h"
#include "book/store.h"

struct ew_behind_pull {
  gint64 id;      /* 0: not known */
  int side;       /* 0 A, 1 B; -1: of a sweep */
  double setting; /* of a sweep; NaN */
  double
      weight; /* of the difference; of a sweep: how far the best moves when this pull reads 1 % more. NaN: not known */
};

struct ew_behind {
  GArray *a, *b; /* gint64: pulls that were asked about */
  GArray *pulls; /* struct ew_behind_pull, in the order they ran; empty: of an earlier program */
  gboolean is_sweep;
  int decimals;         /* of settings and of what moves the best */
  GPtrArray *notes;     /* messages: conditions, which pulls count */
  ew_message *day;      /* the second opinion; NULL: none */
  GPtrArray *day_notes; /* what each condition did to it, what does not fit, what was assumed */
  GPtrArray *assumed;   /* what was lent to a sweep */
  ew_message *next;     /* NULL: nothing to run, or not told */
  GPtrArray *next_why;  /* pulls, minutes, litres, seconds near the limit */
};

typedef struct ew_behind ew_behind; /* for g_autoptr only */
struct ew_behind *ew_behind_read(const struct ew_verdict_row *row);
void ew_behind_free(struct ew_behind *behind);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_behind, ew_behind_free)

/* "A 5 -0.34; B 6 +0.50", or "5 at 26.0: +0.12; 6 at 28.0: -0.05"; NULL: not known. */
char *ew_behind_weights(const struct ew_behind *behind);
/* The same with all messages but the next step: lines, char* each. */
GPtrArray *ew_behind_texts(const struct ew_behind *behind, enum ew_unit_system units);
/* Asked on that day, or later about its pulls alone; `pulls`: ew_pull_list. */
gboolean ew_answer_is_of_day(struct ew_book *book, const struct ew_verdict_row *row,
                             const GArray *pulls, const char *day);
/* As members of an open object. */
void ew_behind_write_json(const struct ew_behind *behind, enum ew_unit_system units,
                          struct ew_json *json);
