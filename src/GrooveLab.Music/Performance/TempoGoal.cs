using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Performance;

/// <summary>A tempo requested while playing: "120" felt beats, "bar = 60", "eighth = 300", or "by 4" or "by 0.5", a step in felt beats. The resulting
/// tempo depends on the current bar.</summary>
/// <param name="Level">What it counts; null for the felt beat.</param>
/// <param name="Note">The note's length if <paramref name="Level"/> is a note; otherwise zero.</param>
/// <param name="PerMinute">Number per minute; zero for a step.</param>
/// <param name="Step">A step in felt beats per minute, negative for slower, with at most three decimals; null for an absolute tempo.</param>
public readonly record struct TempoGoal(TempoLevel? Level, Span Note, Rational PerMinute, Rational? Step)
{
    private static readonly string[] Beats = ["bar", "unit", "group", "bar group", .. NoteValue.AllNames];

    private const int LargestStep = 200;
    private const int MostParts = 1000;

    /// <summary>A step in felt beats per minute.</summary>
    public static TempoGoal By(Rational step) => new(null, Span.Zero, Rational.Zero, step);

    /// <summary>A step of one to two per cent of a tempo, one beat per minute or more for tempi from 50, tenths below that, and hundredths
    /// below 5.</summary>
    /// <param name="felt">The tempo, as felt.</param>
    public static Rational SmallStep(FeltTempo felt)
    {
        for (var parts = 1; ; parts *= 10)
        {
            var step = (felt.PerMinute * new Rational(parts, 50)).Floor();
            if (step >= 1 || parts == MostParts)
            {
                return new Rational(Math.Max(1, step), parts);
            }
        }
    }

    /// <summary>Reads "120", "62.5", "bar = 60", "by -4".</summary>
    /// <exception cref="ChangeRefusedException">The text is not a tempo.</exception>
    internal static TempoGoal Read(string text)
    {
        if (text.Equals("by", StringComparison.OrdinalIgnoreCase))
        {
            throw new ChangeRefusedException("give a step in beats per minute after 'by', such as by 4 or by -4");
        }

        if (ChangeWords.StepIn(text) is { } step)
        {
            return Rational.TryParse(step.TrimStart('+'), out var by) && by >= -LargestStep && by <= LargestStep && PartsOf(by) is not null
                ? By(by)
                : throw new ChangeRefusedException(
                    $"{Words.Quote(step)} is not a step in beats per minute; accepted: {-LargestStep} to {LargestStep}, with at most three decimals");
        }

        var number = text;
        TempoLevel? level = null;
        var note = Span.Zero;
        if (text.Contains('='))
        {
            var sides = text.Split('=', 2, StringSplitOptions.TrimEntries);
            number = sides[1];
            if (number.Length == 0)
            {
                throw new ChangeRefusedException($"give the number per minute after '=', such as {sides[0]} = 60");
            }

            (level, note) = sides[0].ToLowerInvariant() switch
            {
                "bar" => (TempoLevel.Bar, Span.Zero),
                "unit" => (TempoLevel.Unit, Span.Zero),
                "group" => (TempoLevel.Group, Span.Zero),
                "bar group" or "bar-group" => (TempoLevel.BarGroup, Span.Zero),
                var name => NoteValue.TryParse(name, out var length)
                    ? (TempoLevel.Note, length)
                    : throw new ChangeRefusedException($"{Words.Quote(sides[0])} is not a beat; {Words.Meant(Words.Nearest(sides[0], Beats))}use a note such as eighth, or unit, group, bar, bar group"),
            };
        }

        if (number.Length > 1 && number[0] is '+' or '-')
        {
            throw new ChangeRefusedException(
                $"a tempo has no sign; to go faster or slower by steps, write tempo {(number[0] == '-' ? "by " + number : "by " + number[1..])}");
        }

        return Rational.TryParse(number, out var perMinute) && perMinute > Rational.Zero && perMinute.Denominator <= 1000 && perMinute <= 5000
            ? new TempoGoal(level, note, perMinute, null)
            : throw new ChangeRefusedException($"{Words.Quote(number)} is not a tempo; give the beats per minute, such as 120 or 62.5");
    }

    /// <summary>The tempo in a bar.</summary>
    /// <param name="bar">The current bar.</param>
    /// <param name="now">The sounding tempo in it.</param>
    /// <exception cref="ChangeRefusedException">It is out of range, or it counts groups of different lengths.</exception>
    internal Tempo In(BarPlace bar, Tempo now)
    {
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, now, bar.GroupPlace);
        var (beat, perMinute) = (felt.Beat, PerMinute);
        if (Step is { } step)
        {
            // From the nearest round number behind, so that steps land on whole numbers, or on as many decimals as the step has.
            var parts = PartsOf(step)!.Value;
            perMinute = new Rational(step.Sign > 0 ? (felt.PerMinute * parts).Floor() : (felt.PerMinute * parts).Ceiling(), parts) + step;
        }
        else if (Level is { } level)
        {
            beat = level switch
            {
                TempoLevel.Note => Note,
                TempoLevel.Unit => bar.Meter.Unit,
                TempoLevel.Group when bar.Meter.GroupSizes.Distinct().Count() == 1 => bar.Meter.Unit * bar.Meter.GroupSizes[0],
                TempoLevel.Group => throw new ChangeRefusedException($"the groups of {bar.Meter} differ in length; use the unit, a note or the bar"),
                TempoLevel.Bar => bar.Length,
                _ => bar.GroupPlace.LengthIn(bar.Meter),
            };
        }

        var wholes = beat.Wholes * perMinute;
        return wholes >= TempoMark.Slowest && wholes <= TempoMark.Fastest
            ? new Tempo(wholes)
            : throw new ChangeRefusedException(
                $"this tempo is too slow or too fast; accepted: {TempoMark.Slowest} to {TempoMark.Fastest} whole notes per minute");
    }

    // 1, 10, 100 or 1000: how many of them make a beat per minute; null for a step with more decimals.
    private static int? PartsOf(Rational step)
    {
        for (var parts = 1; parts <= MostParts; parts *= 10)
        {
            if ((step * parts).IsInteger)
            {
                return parts;
            }
        }

        return null;
    }

    /// <summary>The goal in words.</summary>
    public override string ToString()
    {
        var number = ChangeWords.Plain(PerMinute);
        return Step is { } step ? $"by {ChangeWords.Plain(step)}" : Level switch
        {
            null => number,
            TempoLevel.Note => $"{NoteValue.NameOf(Note)} = {number}",
            TempoLevel.Unit => $"unit = {number}",
            TempoLevel.Group => $"group = {number}",
            TempoLevel.Bar => $"bar = {number}",
            _ => $"bar group = {number}",
        };
    }
}
