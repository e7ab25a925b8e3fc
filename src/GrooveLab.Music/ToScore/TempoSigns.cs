using System.Globalization;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.ToScore;

/// <summary>The tempo signs of a score: how the tempo feels and its number at the start and where either changes, "rit." and "accel." over changes,
/// equations where two sections meet. What a player does not read (the steps of a change, a hold) is there for playing only.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class TempoSigns
{
    // Decimals of a playing tempo in a file.
    private const long SoundDecimals = 1_000_000;

    // A beat longer than this is named in words.
    private static readonly Span Longest = Span.Of(4, 1);

    private Tempo? _sounding;
    private (string In, Span Beat, Tempo Tempo)? _read;
    private bool _isChanging;
    private BarMeter? _meterBefore;
    private Rational _swing = Rational.One;

    /// <summary>The signs of a bar, in order.</summary>
    public IEnumerable<TempoSign> Of(Bar bar, BarPlace place, Section? sectionBefore)
    {
        var isChanging = place.TempoBeforeRamp is not null;
        var steady = place.SteadyTempo;
        var felt = FeltTempo.Of(place.Felt, place.Meter, isChanging ? place.Tempo : steady, place.GroupPlace);
        var words = new List<string>();
        var metronomes = new List<Metronome>();
        if (place.IndexInRun == 0 && sectionBefore is not null && Equation(place, sectionBefore) is { } equation)
        {
            yield return new TempoSign(Span.Zero) { Metronomes = [equation] };
        }

        if (isChanging && !_isChanging)
        {
            words.Add(Rises(place) ? "accel." : "rit.");
            _read = _read is { } read ? read with { Tempo = default } : null;
        }
        else if (!isChanging && IsNews(felt, steady, place))
        {
            var beat = felt.Level == FeltLevel.BarGroup ? place.Meter.Length : felt.Beat;
            if (BeatOf(beat, place.Meter) is { } unit)
            {
                words.Add(felt.In);
                metronomes.Add(new Metronome(unit) { PerMinute = FigureOf(steady.PerMinute(beat)) });
            }
            else
            {
                words.Add($"{felt.In}, bar = {FigureOf(steady.PerMinute(place.Meter.Length))}");
            }

            _read = (felt.In, felt.Beat, steady);
        }

        var swing = bar.Swing.Ratio;
        var startsSwing = swing != _swing;
        _swing = swing;
        _isChanging = isChanging;
        _meterBefore = place.Meter;
        var first = true;
        foreach (var (onset, tempo) in bar.Tempi)
        {
            var isNew = tempo != _sounding;
            if (isNew || (first && (words.Count > 0 || metronomes.Count > 0 || startsSwing)))
            {
                yield return new TempoSign(onset)
                {
                    Words = first ? [.. words, .. startsSwing && swing > Rational.One ? ["swing"] : Array.Empty<string>()] : [],
                    Metronomes = first ? [.. metronomes] : [],
                    SoundQuarters = Sound(tempo),
                    Swing = first && startsSwing && swing > Rational.One ? SwingOf(swing, place.Meter) : null,
                };
            }

            _sounding = tempo;
            first = false;
        }
    }

    /// <summary>The sign over a pickup: nothing to read, only the tempo.</summary>
    public TempoSign Before(Tempo tempo)
    {
        _sounding = tempo;
        return new TempoSign(Span.Zero) { SoundQuarters = Sound(tempo) };
    }

    /// <summary>The tempo of the ringing bar, if it changes.</summary>
    public TempoSign? AtTheEnd(Bar bar)
    {
        var tempo = bar.Tempi[0].Tempo;
        return tempo == _sounding ? null : new TempoSign(Span.Zero) { SoundQuarters = Sound(tempo) };
    }

    /// <summary>A length as the beat of a metronome mark: one value with at most one dot, otherwise values tied: those of the groups of a bar, or the
    /// longest first.</summary>
    /// <returns>Null if no few values have the length.</returns>
    internal static BeatUnit? BeatOf(Span length, BarMeter meter)
    {
        if (NoteUnit.TryFrom(length, out var one) && one.Dots <= 1)
        {
            return new BeatUnit(one, []);
        }

        const int most = 8;
        var parts = new List<NoteUnit>();
        if (length == meter.Length && meter.GroupSizes.Count > 1 && meter.GroupSizes.Count <= most)
        {
            foreach (var size in meter.GroupSizes)
            {
                if (!NoteUnit.TryFrom(meter.Unit * size, out var unit) || unit.Dots > 1)
                {
                    parts.Clear();
                    break;
                }

                parts.Add(unit);
            }
        }

        var left = parts.Count == 0 && long.IsPow2(length.Wholes.Denominator) && length < Longest ? length : Span.Zero;
        for (var power = NoteBase.Breve; left > Span.Zero && power >= NoteBase.N256; power--)
        {
            for (var unit = new NoteUnit(power); unit.Length <= left; left -= unit.Length)
            {
                parts.Add(unit);
            }
        }

        return parts.Count == 0 ? null : new BeatUnit(parts[0], [.. parts.Skip(1)]);
    }

    // Two lengths that last equally long: as the join says, otherwise the unit where the meter changes and the tempo does not.
    private Metronome? Equation(BarPlace place, Section before)
    {
        var section = place.Run.Section;
        if (section.Tempo?.From is not null)
        {
            return null;
        }

        if (section.Join is { } join)
        {
            var (old, now) = join.BarsEqual ? (before.Bars[^1].Meter.Length, place.Meter.Length) : (join.Before, join.After);
            return BeatOf(old, before.Bars[^1].Meter) is { } from && BeatOf(now, place.Meter) is { } to ? new Metronome(from) { SameAs = to } : null;
        }

        return _meterBefore is { } meter && !meter.Equals(place.Meter) && _sounding == place.Tempo && !_isChanging
            && BeatOf(Span.Min(meter.Unit, place.Meter.Unit), place.Meter) is { } unit
            ? new Metronome(unit) { SameAs = unit, InParentheses = true }
            : null;
    }

    // Inside a section that goes from meter to meter, only a new tempo is.
    private bool IsNews(FeltTempo felt, Tempo steady, BarPlace place) =>
        _read is not { } known || known.Tempo != steady
        || (place.IndexInRun == 0 && (known.In != felt.In || (known.Beat != felt.Beat && felt.Level < FeltLevel.Bar)));

    private static bool Rises(BarPlace place) => place.Tempi[^1].Tempo > place.TempoBeforeRamp!.Value
        || (place.Tempi.Count > 1 && place.Tempi[^1].Tempo > place.Tempi[0].Tempo);

    private static string FigureOf(Rational perMinute)
    {
        var rounded = new Rational((perMinute * 100).Round(), 100);
        return rounded.IsInteger ? rounded.Numerator.ToString(CultureInfo.InvariantCulture)
            : rounded.ToDouble().ToString(rounded >= 100 ? "0" : rounded < 5 ? "0.##" : "0.#", CultureInfo.InvariantCulture);
    }

    private static Rational Sound(Tempo tempo)
    {
        var quarters = tempo.WholesPerMinute * 4;
        return (quarters * SoundDecimals).IsInteger ? quarters : new Rational((quarters * SoundDecimals).Round(), SoundDecimals);
    }

    private static Detail SwingOf(Rational ratio, BarMeter meter) => new("swing", string.Empty)
    {
        Inside =
        [
            new Detail("first", ratio.Numerator.ToString(CultureInfo.InvariantCulture)),
            new Detail("second", ratio.Denominator.ToString(CultureInfo.InvariantCulture)),
            new Detail("swing-type", meter.Signature.Denominator == 4 ? "eighth" : "16th"),
        ],
    };
}
