/* The vector kernels that predictions use here. */
#pragma once
#include "cycle/backend/backend.h"
#include "cycle/backend/kernel.h"

static inline const struct ew_kernel *kernel_in_use(void) {
  return ew_kernel_named(ew_cycle_backend_choose(NULL)->name);
}
