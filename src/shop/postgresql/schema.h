/* The tables of a shop, one step a version. */
#pragma once

extern const char *const ew_shop_steps[];
int ew_shop_newest(void);
