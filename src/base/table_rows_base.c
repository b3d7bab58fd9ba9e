/* Compiled for this level only: nothing but the kernel may stand here. */
#define ROWS_NAME ew_table_rows_base
#include "base/table_rows_kernel.h"
