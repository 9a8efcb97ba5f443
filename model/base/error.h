/**
 * \file
 * Errors as values: the first thing that went wrong, with where it was, what was found
 * and what was expected. */
#ifndef SWH_MODEL_BASE_ERROR_H
#define SWH_MODEL_BASE_ERROR_H

/** What came of a call. */
enum swh_status {
    SWH_OK = 0,     /**< done */
    SWH_ERR_USAGE,  /**< the call, or the command line, is wrong */
    SWH_ERR_INPUT,  /**< an input file or value is wrong */
    SWH_ERR_RANGE,  /**< a physical state left the range of its property tables */
    SWH_ERR_SOLVER, /**< the integrator, a root finder or a fit could not go on */
    SWH_ERR_OUTPUT, /**< a result could not be written */
    SWH_ERR_MEMORY  /**< an allocation failed */
};

/** What went wrong; all zeros if nothing did. */
struct swh_error {
    enum swh_status status; /**< SWH_OK if nothing went wrong */
    char where[256];        /**< file, option or part of the machine; "" if none */
    long line;              /**< from 1; 0 if none */
    long column;            /**< from 1; 0 if none */
    char what[512];         /**< what was found */
    char expected[256];     /**< what was expected; "" if none */
};

#endif
