using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Performance;

/// <summary>A tempo requested while playing: "120" felt beats, "bar = 60", "eighth = 300", or "by 4", a step in felt beats. The resulting
/// tempo depends on the current bar.</summary>
/// <param name="Level">What it counts; null for the felt beat.</param>
/// <param name="Note">The note's length if <paramref name="Level"/> is a note; otherwise zero.</param>
/// <param name="PerMinute">Number per minute; zero for a step.</param>
/// <param name="Step">A step in felt beats per minute, negative for slower; null for an absolute tempo.</param>
public readonly record struct TempoGoal(TempoLevel? Level, Span Note, Rational PerMinute, int? Step)
{
    private const int LargestStep = 200;

    /// <summary>A step in felt beats per minute.</summary>
    public static TempoGoal By(int step) => new(null, Span.Zero, Rational.Zero, step);

    /// <summary>Reads "120", "62.5", "bar = 60", "by -4".</summary>
    /// <exception cref="ChangeRefusedException">The text is not a tempo.</exception>
    internal static TempoGoal Read(string text)
    {
        if (ChangeWords.StepIn(text) is { } step)
        {
            return By(ChangeWords.Whole(step, -LargestStep, LargestStep, "a step in beats per minute"));
        }

        var number = text;
        TempoLevel? level = null;
        var note = Span.Zero;
        if (text.Contains('='))
        {
            var sides = text.Split('=', 2, StringSplitOptions.TrimEntries);
            number = sides[1];
            (level, note) = sides[0].ToLowerInvariant() switch
            {
                "bar" => (TempoLevel.Bar, Span.Zero),
                "unit" => (TempoLevel.Unit, Span.Zero),
                "group" => (TempoLevel.Group, Span.Zero),
                "bar group" or "bar-group" => (TempoLevel.BarGroup, Span.Zero),
                var name => NoteValue.TryParse(name, out var length)
                    ? (TempoLevel.Note, length)
                    : throw new ChangeRefusedException($"{Words.Quote(sides[0])} is not a beat; use a note such as eighth, or unit, group, bar, bar group"),
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
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, now, bar.GroupPlace.Size);
        var (beat, perMinute) = (felt.Beat, PerMinute);
        if (Step is { } step)
        {
            // To the next whole number, so that steps land on whole numbers.
            perMinute = step > 0 ? felt.PerMinute.Floor() + step : felt.PerMinute.Ceiling() + step;
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
                _ => bar.Length * bar.GroupPlace.Size,
            };
        }

        var wholes = beat.Wholes * perMinute;
        return wholes >= TempoMark.Slowest && wholes <= TempoMark.Fastest
            ? new Tempo(wholes)
            : throw new ChangeRefusedException(
                $"this tempo is too slow or too fast; accepted: {TempoMark.Slowest} to {TempoMark.Fastest} whole notes per minute");
    }

    /// <summary>The goal in words.</summary>
    public override string ToString()
    {
        var number = ChangeWords.Plain(PerMinute);
        return Step is { } step ? string.Create(CultureInfo.InvariantCulture, $"by {step}") : Level switch
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
