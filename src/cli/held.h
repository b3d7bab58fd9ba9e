/* A held pull on the terminal: its questions, each with the command that answers it. */
#pragma once
#include "base/units.h"
#include "book/book.h"

void ew_call_say_held(struct ew_book *book, gint64 id, enum ew_unit_system units);
