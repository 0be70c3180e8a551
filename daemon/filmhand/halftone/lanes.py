"""Three operations on many dots at once, written as LLVM vector code for numba kernels.

numba widens small integers to 64 bits before it adds or multiplies them, so a plain loop over bytes runs eight to thirty
times slower than the machine could. LLVM's own vector types have no such habit. They belong to no instruction set: LLVM
turns them into whatever the processor has (LLVM Language Reference, "Vector Type"; numba manual, "Implementing intrinsics").
numba keeps compiled kernels by the kernel's own file: after a change here, remove `__pycache__` of the rooms that call it.
The indices are not checked: a kernel that calls these owns whole lanes (64 dots, or 16 where it says so) of every array.
"""

from collections.abc import Callable
from typing import Any, cast

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

DOTS = 64
"""Dots that `blend` and `above` work on at a time: one word of bits."""
COLUMNS = 16
"""Dots that `stretch` works on at a time."""
OVERREAD = 4
"""Bytes that can be read from any column on: `stretch` may look at so many, of which it uses two."""

_I1, _I8, _I16, _I32, _I64 = (ir.IntType(bits) for bits in (1, 8, 16, 32, 64))


def operation(code: Callable[..., Any]) -> Callable[..., Any]:
    """numba's `intrinsic`, under a type that kernels can call."""
    return cast(Callable[..., Any], intrinsic(code))


@operation
def above(_context: Any, values: Any, i: Any, limits: Any, j: Any) -> Any:
    """uint64 whose bit k says whether values[i + k] > limits[j + k]: 64 dots, both arrays uint8, dot 0 in the lowest bit."""

    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        value = _load(builder, _at(context, builder, signature.args[0], args[0], args[1]), _I8, DOTS)
        limit = _load(builder, _at(context, builder, signature.args[2], args[2], args[3]), _I8, DOTS)
        return builder.bitcast(builder.icmp_unsigned(">", value, limit), _I64)

    return types.uint64(values, i, limits, j), code


@operation
def blend(_context: Any, upper: Any, lower: Any, i: Any, shares: Any, out: Any) -> Any:
    """out[k] = upper[i + k] · shares[0] + lower[i + k] · shares[1], for 64 dots.

    `upper`, `lower`: uint16, 256ths of a tone, 0 to 65280. `shares`: uint16, 65536ths, which together make 65536.
    `out`: uint8 tones, rounded to the nearest; its first 64 are written.
    """

    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        def part(argument: int) -> Any:
            row = _load(builder, _at(context, builder, signature.args[argument], args[argument], args[2]), _I16, DOTS)
            # The share is loaded here, inside the kernel's loop, so that LLVM sees the zero-extension of both factors
            # together and uses the processor's "high half of a 16-bit product": twice as fast as 32-bit lanes.
            share = builder.load(_at(context, builder, signature.args[3], args[3], _I64(argument)))
            wide = ir.VectorType(_I32, DOTS)
            product = builder.mul(builder.zext(row, wide), builder.zext(_splat(builder, share, DOTS), wide))
            return builder.trunc(builder.lshr(product, _constant(_I32, DOTS, 16)), ir.VectorType(_I16, DOTS))

        # 128 rounds to the nearest tone; 1 more is what the two halved products lose on average.
        total = builder.add(builder.add(part(0), part(1)), _constant(_I16, DOTS, 129))
        tones = builder.trunc(builder.lshr(total, _constant(_I16, DOTS, 8)), ir.VectorType(_I8, DOTS))
        _store(builder, tones, _at(context, builder, signature.args[4], args[4], _I64(0)))
        return context.get_dummy_value()

    return types.void(upper, lower, i, shares, out), code


@operation
def stretch(_context: Any, source: Any, columns: Any, shares: Any, i: Any, out: Any) -> Any:
    """out[i + k] = source[c] · (256 - s) + source[c + 1] · s with c = columns[i + k], s = shares[i + k], for 16 dots.

    `source`: uint8 tones, with at least four bytes that can be read from every column on. `columns`: uint32.
    `shares`: uint16, 0 to 256. `out`: uint16, 256ths of a tone.
    """

    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        base = builder.ptrtoint(_at(context, builder, signature.args[0], args[0], _I64(0)), _I64)
        column = _load(builder, _at(context, builder, signature.args[1], args[1], args[3]), _I32, COLUMNS)
        address = builder.add(_splat(builder, base, COLUMNS), builder.zext(column, ir.VectorType(_I64, COLUMNS)))
        # One gathered 32-bit word brings a column and its right-hand neighbour in its two low bytes.
        pair = builder.trunc(_gather(builder, address), ir.VectorType(_I16, COLUMNS))
        share = _load(builder, _at(context, builder, signature.args[2], args[2], args[3]), _I16, COLUMNS)
        left = builder.mul(builder.and_(pair, _constant(_I16, COLUMNS, 255)), builder.sub(_constant(_I16, COLUMNS, 256), share))
        right = builder.mul(builder.lshr(pair, _constant(_I16, COLUMNS, 8)), share)
        _store(builder, builder.add(left, right), _at(context, builder, signature.args[4], args[4], args[3]))
        return context.get_dummy_value()

    return types.void(source, columns, shares, i, out), code


def _at(context: Any, builder: Any, array_type: Any, array: Any, index: Any) -> Any:
    """Address of a contiguous array's element."""
    return builder.gep(context.make_array(array_type)(context, builder, array).data, [index])


def _load(builder: Any, pointer: Any, element: Any, lanes: int) -> Any:
    loaded = builder.load(builder.bitcast(pointer, ir.VectorType(element, lanes).as_pointer()))
    loaded.align = 1
    return loaded


def _store(builder: Any, vector: Any, pointer: Any) -> None:
    builder.store(vector, builder.bitcast(pointer, vector.type.as_pointer())).align = 1


def _constant(element: Any, lanes: int, value: int) -> Any:
    return ir.Constant(ir.VectorType(element, lanes), [value] * lanes)


def _splat(builder: Any, value: Any, lanes: int) -> Any:
    """A vector with one value in every lane."""
    nothing = ir.Constant(ir.VectorType(value.type, lanes), ir.Undefined)
    first = builder.insert_element(nothing, value, _I32(0))
    return builder.shuffle_vector(first, nothing, _constant(_I32, lanes, 0))


def _gather(builder: Any, addresses: Any) -> Any:
    """One 32-bit word from each address, which need not be aligned (LLVM Language Reference, llvm.masked.gather)."""
    words = ir.VectorType(_I32, COLUMNS)
    pointers = ir.VectorType(_I32.as_pointer(), COLUMNS)
    mask = ir.VectorType(_I1, COLUMNS)
    gather = cgutils.get_or_insert_function(  # type: ignore[no-untyped-call]
        builder.module,
        ir.FunctionType(words, [pointers, _I32, mask, words]),
        f"llvm.masked.gather.v{COLUMNS}i32.v{COLUMNS}p0",
    )
    return builder.call(
        gather, [builder.inttoptr(addresses, pointers), _I32(1), _constant(_I1, COLUMNS, 1), ir.Constant(words, ir.Undefined)]
    )
