/* What all questions share (desk/question.h): which pulls were asked about, which of them count once, what was set aside, and the
 * keeping of the answer. */
#pragma once
#include "desk/question.h"

/* A pull as an argument: its number in the book, or its file. */
#define EW_SAY_PULL(as, l)                                                                         \
  ((l)->id ? ew_say_message(as, (l)->numbered) : ew_say_text(as, (l)->name))

/* Is each of them of the book, and at least one? */
gboolean ew_question_of_book(const GPtrArray *pulls);
/* Is one computed with other records than are kept? An answer about something that the book does not hold is not kept there. */
gboolean ew_question_differs(const GPtrArray *pulls);
/* Which pulls were asked about (ew_asked_write); `b` may be NULL. */
char *ew_question_asked(const GPtrArray *a, const GPtrArray *b);
/* What tripped and was not looked into yet, of the engine these pulls were made with; NULL: nothing. */
ew_message *ew_question_look_first(const struct ew_desk *desk, const GPtrArray *pulls);
/* What was set aside is used when it is named, and said to be. */
void ew_question_set_aside(const struct ew_desk *desk, const GPtrArray *pulls, GPtrArray *warnings);
/* The pulls without those that are the same recording as one before: the same evidence counts once. `met`: what was met so far. The
 * array borrows. */
GPtrArray *ew_question_once(const struct ew_desk *desk, const GPtrArray *pulls, GHashTable *met,
                            GPtrArray *warnings);
/* History without what stands on a side, and each recording once; `group` follows. */
GPtrArray *ew_question_history_once(const struct ew_desk *desk, const GPtrArray *history,
                                    const GArray *group, GHashTable *met, GArray *groups,
                                    GPtrArray *warnings);

/* What one pull costs, from the pulls themselves; NaN: not known. `high`: near its own limit. */
struct ew_question_cost {
  double minutes, litres, seconds_high;
};
struct ew_question_cost ew_question_cost(const struct ew_curve *const *curves, gsize n);

/* What a question was asked with, as it is kept to be asked again (desk/again.h). What is NaN or NULL was not said. */
struct ew_question_said {
  double margin, reserve, band_low_rpm, band_high_rpm;
  int level; /* -1: not said */
  guint despite;
};
struct ew_question_said ew_question_nothing_said(void);
/* The answer with its question. `b`, `learned` may be NULL; `learned`: readings of the pulls that it learned from, "7.1,8.2". `write` writes
 * its members. */
struct ew_question_answer {
  const char *question, *pair;
  const GPtrArray *a, *b;
  const char *learned;
  struct ew_question_said said;
  const ew_message *says;
  void (*write)(const void *answer, struct ew_json *json);
  const void *answer;
};
gboolean ew_question_keep(const struct ew_desk *desk, const struct ew_question_answer *answer,
                          GError **error);
