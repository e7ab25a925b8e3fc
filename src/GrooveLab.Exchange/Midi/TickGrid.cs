using GrooveLab.Music.Bars;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Midi;

/// <summary>The places of a series of bars in ticks. A bar whose unit is not a power of two, which a time signature event cannot express,
/// is written in the next longer unit that is one (7/12 as 7/8); its ticks are stretched and its tempo raised by the quotient.</summary>
internal sealed class TickGrid
{
    /// <summary>Ticks per quarter, divisible by 3, 5, 7, 9 and powers of two down to a 256th note.</summary>
    public const int UsualTicksPerQuarter = 20_160;

    private readonly Row[] _rows;

    public TickGrid(IReadOnlyList<Bar> bars)
    {
        _rows = new Row[bars.Count];
        var quarters = Rational.Zero;
        for (var i = 0; i < bars.Count; i++)
        {
            _rows[i] = new Row(bars[i].Start, quarters, StretchOf(bars[i].Meter.Signature));
            quarters += (bars[i].Length * _rows[i].Stretch * 4).Wholes;
        }

        TicksPerQuarter = Resolution(bars);
        EndTick = Ticks(quarters);
    }

    public int TicksPerQuarter { get; }

    public long EndTick { get; }

    /// <summary>The power of two written for a denominator: itself, or the next one below.</summary>
    public static int WrittenDenominator(int denominator) => 1 << System.Numerics.BitOperations.Log2((uint)denominator);

    /// <summary>The factor by which a bar's written note values are longer than the real ones.</summary>
    public static Rational StretchOf(TimeSignature signature) =>
        new(signature.Denominator, WrittenDenominator(signature.Denominator));

    /// <summary>The tick nearest to a place.</summary>
    public long TickAt(Position place) => Ticks(QuartersAt(place));

    /// <summary>True when a place falls exactly on a tick.</summary>
    public bool IsExactAt(Position place) => (QuartersAt(place) * TicksPerQuarter).IsInteger;

    private long Ticks(Rational quarters) => (quarters * TicksPerQuarter).Round();

    private Rational QuartersAt(Position place)
    {
        var low = 0;
        var high = _rows.Length - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (_rows[middle].Start <= place)
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        var row = _rows[low];
        return row.Quarters + ((place - row.Start) * row.Stretch * 4).Wholes;
    }

    // The usual number if it fits all notes exactly; otherwise one that does, if the header allows it.
    private int Resolution(IReadOnlyList<Bar> bars)
    {
        var denominators = new HashSet<long>();
        foreach (var bar in bars)
        {
            denominators.Add(QuartersAt(bar.End).Denominator);
            foreach (var note in bar.Notes)
            {
                denominators.Add(QuartersAt(bar.Start + note.Onset).Denominator);
                denominators.Add(QuartersAt(bar.Start + note.End).Denominator);
            }

            foreach (var (onset, _) in bar.Tempi)
            {
                denominators.Add(QuartersAt(bar.Start + onset).Denominator);
            }
        }

        if (denominators.All(denominator => UsualTicksPerQuarter % denominator == 0))
        {
            return UsualTicksPerQuarter;
        }

        var common = 1L;
        foreach (var denominator in denominators)
        {
            common = common / (long)System.Numerics.BigInteger.GreatestCommonDivisor(common, denominator) * denominator;
            if (common > MidiDivision.MostTicksPerQuarter)
            {
                return UsualTicksPerQuarter;
            }
        }

        return (int)(MidiDivision.MostTicksPerQuarter / common * common);
    }

    private readonly record struct Row(Position Start, Rational Quarters, Rational Stretch);
}
