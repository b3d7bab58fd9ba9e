/* Answers that cost much, kept until what they depend on changes: the book, and the minute of the day, for what names today. Blocks of
 * a recording under way, twenty a second, change next to nothing: an answer outlives them by ten seconds at most. Of one queue and its
 * connection to the book; bounded to 16 MB, then all are let go. */
#pragma once
#include "book/book.h"
#include "serve/request.h"

struct ew_answers; /* opaque */
struct ew_answers *ew_answers_new(void);
void ew_answers_free(struct ew_answers *kept);
/* The answer to this very question, if the book is as it was; into `reply`. */
gboolean ew_answers_find(struct ew_answers *kept, struct ew_book *book,
                         const struct ew_request *request, struct ew_reply *reply);
/* Keeps a good answer, which began to be made when the book was at the version of the last ew_answers_find. */
void ew_answers_add(struct ew_answers *kept, const struct ew_request *request,
                    struct ew_reply *reply);
