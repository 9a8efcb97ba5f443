/**
 * \file
 * The library in one header, for C11 and C++17: what is to be simulated (setup.h), what came of it
 * (record.h), going on step by step (stepper.h), what readings tell (infer.h), the names that all of them
 * take (names.h).
 *
 * All values are in SI units, pressures absolute, rotation in revolutions per second, unless a unit is named.
 * Every call that can fail returns an `enum swh_status` and describes what went wrong in its last argument,
 * which may be NULL. Nothing is kept between calls outside the handles: different handles may be used by
 * different threads at a time.
 *
 * It computes; it does not replace the vehicle maker's manual, gauges or licensed
 * practice. */
#ifndef SWASHHEAT_SWASHHEAT_H
#define SWASHHEAT_SWASHHEAT_H

#include <swashheat/error.h>
#include <swashheat/infer.h>
#include <swashheat/names.h>
#include <swashheat/record.h>
#include <swashheat/setup.h>
#include <swashheat/stepper.h>
#include <swashheat/version.h>

#endif
