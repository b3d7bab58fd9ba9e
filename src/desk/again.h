/* Answers on an earlier reading, asked again: the same question of the same pulls, as they are read now. The former answer
 * stays; the new one stands beside it. */
#pragma once
#include "desk/question.h"

/* Those of an engine (0: of all) that are on an earlier reading and were not asked again since, one a question: struct
 * ew_verdict_row, cleared by the array. O(answers squared at worst; a shop has some hundreds). NULL with *error. */
GArray *ew_answers_to_ask(struct ew_book *book, gint64 engine_id, GError **error);

/* Asks it again as it was asked (margin, reserve, band, level, what may differ on purpose) and keeps the answer. What an earlier program
 * did not keep of it is as usual. A history that was named with it is not kept: the book's own is taken. *says: the
 * new answer, to be freed. FALSE with *error: it can't be asked any more, and nothing is kept. */
gboolean ew_ask_again(const struct ew_desk *desk, const struct ew_verdict_row *row,
                      ew_message **says, GError **error);
/* The same as one object: `id`, `before`, `now` (null: refused) and `refused` (why). FALSE: refused. */
gboolean ew_ask_again_json(const struct ew_desk *desk, const struct ew_verdict_row *row,
                           struct ew_json *json);
