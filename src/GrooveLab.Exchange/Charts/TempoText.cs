using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Reads and writes the tempi of a chart: marks, ramps and joins.</summary>
public static partial class TempoText
{
    /// <summary>The syntax of a tempo, for messages.</summary>
    public const string Accepted =
        "write a beat and its number per minute, such as \"eighth = 300\", \"dotted quarter = 96\", \"bar = 60\", \"bar group = 14\", "
        + "\"unit = 200\" or \"1/12 = 300\"";

    private const string AcceptedChange =
        "write a tempo (\"eighth = 240\"), a ramp (\"to eighth = 320\", \"eighth = 240 to 320\"), and how long it takes if not the whole section "
        + "(\"to bar = 60 over 4 bars\")";

    private const string AcceptedJoin =
        "write an old length = a new one, such as \"eighth = eighth\", \"eighth = quarter\", \"3/8 = 1/4\" or \"bar = bar\"";

    private const int Longest = 120;
    private const int LargestNumber = 100_000;

    /// <summary>Reads a mark and reports problems.</summary>
    internal static TempoMark? Mark(TomlString text, Problems problems)
    {
        if (!IsShort(text, Accepted, problems))
        {
            return null;
        }

        if (TryMark(text.Value, out var mark, out var problem))
        {
            return mark;
        }

        problems.Add(text.PlaceOf(0), problem, Accepted);
        return null;
    }

    /// <summary>Reads a section's tempo and reports problems.</summary>
    internal static TempoChange? Change(TomlString text, Problems problems)
    {
        if (!IsShort(text, AcceptedChange, problems))
        {
            return null;
        }

        var body = text.Value.Trim();
        int? over = null;
        if (Over().Match(body) is { Success: true } match)
        {
            if (!int.TryParse(match.Groups["bars"].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out var bars) || bars < 1)
            {
                problems.Add(text.PlaceOf(0), $"{Words.Quote(body)} does not take a number of bars", AcceptedChange);
                return null;
            }

            over = bars;
            body = body[..match.Index].TrimEnd();
        }

        var (first, second) = Halves(body);
        TempoMark? from = null;
        TempoMark? to = null;
        string? problem = null;
        if (first.Length > 0)
        {
            if (TryMark(first, out var mark, out problem))
            {
                from = mark;
            }
        }

        if (second is not null && problem is null)
        {
            // "eighth = 240 to 320": the second tempo counts the same note.
            var whole = second.Contains('=') || from is null ? second : first[..first.IndexOf('=')] + "= " + second;
            if (TryMark(whole, out var mark, out problem))
            {
                to = mark;
            }
        }

        if (problem is null && to is null && over is not null)
        {
            problem = $"{Words.Quote(text.Value)} has a number of bars but no target tempo";
        }

        if (problem is null)
        {
            return new TempoChange(from, to, over);
        }

        problems.Add(text.PlaceOf(0), problem, AcceptedChange);
        return null;
    }

    /// <summary>Reads a join and reports problems.</summary>
    internal static TempoJoin? Join(TomlString text, Problems problems)
    {
        if (!IsShort(text, AcceptedJoin, problems))
        {
            return null;
        }

        var sides = text.Value.Split('=');
        if (sides.Length == 2)
        {
            if (IsBar(sides[0]) && IsBar(sides[1]))
            {
                return new TempoJoin(BarsEqual: true, Span.Zero, Span.Zero);
            }

            if (TryNote(sides[0], out var before) && TryNote(sides[1], out var after))
            {
                return new TempoJoin(BarsEqual: false, before, after);
            }
        }

        problems.Add(text.PlaceOf(0), $"{Words.Quote(text.Value)} is not a join of two tempi", AcceptedJoin);
        return null;
    }

    internal static string Write(TempoMark mark) => $"{LevelOf(mark)} = {Number(mark.PerMinute)}";

    internal static string Write(TempoChange change)
    {
        var parts = new List<string>();
        if (change.From is { } from)
        {
            parts.Add(Write(from));
        }

        if (change.To is { } to)
        {
            parts.Add("to " + Write(to));
        }

        if (change.OverBars is { } bars)
        {
            parts.Add(string.Create(CultureInfo.InvariantCulture, $"over {bars} {(bars == 1 ? "bar" : "bars")}"));
        }

        return string.Join(' ', parts);
    }

    internal static string Write(TempoJoin join) =>
        join.BarsEqual ? "bar = bar" : $"{NoteValue.NameOf(join.Before)} = {NoteValue.NameOf(join.After)}";

    private static bool IsShort(TomlString text, string accepted, Problems problems)
    {
        if (text.Value.Length <= Longest)
        {
            return true;
        }

        problems.Add(text.PlaceOf(0), $"{Words.Quote(text.Value)} is too long", accepted);
        return false;
    }

    /// <summary>Reads a tempo such as "eighth = 300".</summary>
    /// <param name="text">The text.</param>
    /// <param name="mark">The tempo.</param>
    /// <param name="problem">What is wrong with it; null for none.</param>
    public static bool TryMark(string text, out TempoMark mark, [NotNullWhen(false)] out string? problem)
    {
        mark = default;
        var sides = text.Split('=');
        if (sides.Length != 2)
        {
            problem = Rational.TryParse(text, out _)
                ? $"{Words.Quote(text)} has no beat"
                : $"{Words.Quote(text)} is not a tempo";
            return false;
        }

        var number = PerMinute().Replace(sides[1].Trim(), string.Empty);
        if (!Rational.TryParse(number, out var perMinute)
            || perMinute.Sign <= 0
            || perMinute > LargestNumber
            || perMinute.Denominator > LargestNumber)
        {
            problem = $"{Words.Quote(sides[1].Trim())} is not a number from 0.00001 to {LargestNumber} with at most five decimals";
            return false;
        }

        var name = Plain(sides[0]);
        problem = null;
        switch (name)
        {
            case "unit" or "units":
                mark = new TempoMark(TempoLevel.Unit, Span.Zero, perMinute);
                return true;
            case "group" or "groups":
                mark = new TempoMark(TempoLevel.Group, Span.Zero, perMinute);
                return true;
            case "bar" or "bars":
                mark = new TempoMark(TempoLevel.Bar, Span.Zero, perMinute);
                return true;
            case "bar group" or "bar groups":
                mark = new TempoMark(TempoLevel.BarGroup, Span.Zero, perMinute);
                return true;
        }

        if (TryNote(name, out var note))
        {
            mark = new TempoMark(TempoLevel.Note, note, perMinute);
            return true;
        }

        problem = $"{Words.Quote(sides[0].Trim())} is neither a note value nor unit, group, bar or bar group";
        return false;
    }

    private static bool TryNote(string text, out Span note) =>
        NoteValue.TryParse(Plain(text), out note)
        && note.Wholes.Numerator <= 1024
        && note.Wholes.Denominator <= 1024;

    private static bool IsBar(string text) => Plain(text) is "bar" or "bars";

    // Hyphens instead of spaces, single spaces, and the printed notes for their names.
    private static string Plain(string text)
    {
        var body = text.Trim().ToLowerInvariant().Replace('-', ' ');
        body = body switch
        {
            "♪" => "eighth",
            "♪." => "dotted eighth",
            "♩" => "quarter",
            "♩." => "dotted quarter",
            "𝅗𝅥" => "half",
            "𝅗𝅥." => "dotted half",
            _ => body,
        };
        body = string.Join(' ', body.Split(default(char[]), StringSplitOptions.RemoveEmptyEntries));
        return body
            .Replace("thirty second", "thirty-second", StringComparison.Ordinal)
            .Replace("sixty fourth", "sixty-fourth", StringComparison.Ordinal);
    }

    private static (string First, string? Second) Halves(string body)
    {
        if (body.StartsWith("to ", StringComparison.OrdinalIgnoreCase))
        {
            return (string.Empty, body[3..].Trim());
        }

        var at = body.IndexOf(" to ", StringComparison.OrdinalIgnoreCase);
        return at < 0 ? (body, null) : (body[..at].Trim(), body[(at + 4)..].Trim());
    }

    private static string LevelOf(TempoMark mark) => mark.Level switch
    {
        TempoLevel.Note => NoteValue.NameOf(mark.Note),
        TempoLevel.Unit => "unit",
        TempoLevel.Group => "group",
        TempoLevel.Bar => "bar",
        _ => "bar group",
    };

    // A decimal if exact, otherwise the fraction.
    internal static string Number(Rational value) => Decimals.Exact(value) ?? value.ToString();

    [GeneratedRegex(@"\s+over\s+(?<bars>\d+)\s+bars?$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase, 1000)]
    private static partial Regex Over();

    [GeneratedRegex(@"\s*(bpm|a minute|per minute)$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex PerMinute();
}
