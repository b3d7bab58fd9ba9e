/* What this machine can see at once of a source that was put together without fault, and without waiting for anybody: whether the serial line,
 * the interface, the address, the folder is there. A peer that may be switched on later is not looked for. */
#pragma once
#include "cell/source_form.h"

/* `typed` as ew_source_form_url takes it, found without fault. What is wrong is put into `faults`, at its field, with what to do. */
void ew_source_here(const struct ew_source_form *form, const struct ew_node *typed,
                    GPtrArray *faults);
