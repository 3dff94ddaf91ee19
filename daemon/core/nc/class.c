#include "class.h"

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Woverride-init"

const uint8_t nc_class[256] = {
    [0 ... 127] = NC_C_BAD,
    [128 ... 255] = NC_C_HIGH,
    ['A' ... 'Z'] = NC_C_LETTER,
    [':'] = NC_C_LETTER,
    ['a' ... 'z'] = NC_C_LOWER,
    ['0' ... '9'] = NC_C_DIGIT,
    ['.'] = NC_C_POINT,
    ['+'] = NC_C_ODD,
    ['-'] = NC_C_ODD,
    ['*'] = NC_C_ODD,
    ['='] = NC_C_ODD,
    ['['] = NC_C_ODD,
    [']'] = NC_C_ODD,
    [')'] = NC_C_ODD,
    [' '] = NC_C_BLANK,
    ['\t'] = NC_C_TAB,
    ['\r'] = NC_C_END,
    ['\n'] = NC_C_END,
    ['('] = NC_C_OPEN,
    [';'] = NC_C_NOTE,
    ['/'] = NC_C_SLASH,
    ['%'] = NC_C_PERCENT,
    ['#'] = NC_C_HASH,
    [','] = NC_C_COMMA,
    [0x00] = NC_C_FILL,
    [0x7F] = NC_C_FILL,
    [0x1A] = NC_C_FILL,
};

#pragma GCC diagnostic pop
