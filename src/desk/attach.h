/* Whom a photo or file belongs to, as a person writes it. */
#pragma once
#include "book/attachment.h"

/* "engine", "engine:NAME", "build", "build:ITEM" (a measurement or step of the engine's last build),
 * "pull:12", "day", "day:2026-11-25". `engine` (NULL: the last added) says which engine or build. Free
 * with ew_desk_owner_clear. */
gboolean ew_desk_owner(struct ew_book *book, const char *text, const char *engine,
                       struct ew_owner *owner, GError **error);
void ew_desk_owner_clear(struct ew_owner *owner);
/* The day that is meant without a date: that of the last pull, else today. NULL with *error. */
char *ew_desk_day(struct ew_book *book, GError **error);
