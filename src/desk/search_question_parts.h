/* What reads a question (search_question.c) and its shelf (search_shelf.c) share. Private to these two. */
#pragma once
#include "desk/search_question.h"

/* Prefixes *error with where the node is; FALSE. */
gboolean ew_question_at(GError **error, const char *where, const struct ew_node *node);
/* Only these members, NULL-terminated. */
gboolean ew_question_knows(const struct ew_node *map, const char *const *keys, const char *where,
                           GError **error);
/* A member's text; NULL when it is not there, or not one text. */
const char *ew_question_text(const struct ew_node *map, const char *key);
gboolean ew_question_quantity(const struct ew_node *map, const char *key, enum ew_kind kind,
                              double otherwise, const char *where, double *value, GError **error);
/* One change; commas are refused, as they make several. */
gboolean ew_question_change(const char *field, const char *text, struct ew_variation *change,
                            GError **error);
/* A place on the shelf with its parts, as one more axis. */
gboolean ew_question_place(struct ew_search_question *question, const struct ew_node *map,
                           const char *where, GError **error);
