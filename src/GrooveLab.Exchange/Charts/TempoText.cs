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

    private const string AcceptedRise =
        "write the tempo and its bars: \"to quarter = 80 over the last 2 bars\", \"to quarter = 140 over bars 3 to 4\", and if wanted \", then a tempo\"";

    private const string ATempo = "a tempo";
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
        if (!TryAfter(ref body, out var after, out var wrong))
        {
            problems.Add(text.PlaceOf(0), wrong, AcceptedChange);
            return null;
        }

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
            return new TempoChange(from, to, over) { After = after };
        }

        problems.Add(text.PlaceOf(0), problem, AcceptedChange);
        return null;
    }

    /// <summary>True for a change of tempo over named bars or over the last bars of a section.</summary>
    internal static bool IsRise(string text)
    {
        var body = Then().Replace(text.Trim(), string.Empty);
        return text.Length <= Longest && (OverLast().IsMatch(body) || OverBars().IsMatch(body));
    }

    /// <summary>True for what only format 2 has.</summary>
    internal static bool IsNew(string text) => IsRise(text) || Then().IsMatch(text.Trim());

    /// <summary>Reads a change of tempo over named bars or over the last bars of a section, and reports problems.</summary>
    internal static TempoRise? Rise(TomlString text, Problems problems)
    {
        var body = text.Value.Trim();
        if (!TryAfter(ref body, out var after, out var problem))
        {
            problems.Add(text.PlaceOf(0), problem, AcceptedRise);
            return null;
        }

        var last = OverLast().Match(body);
        var match = last.Success ? last : OverBars().Match(body);
        int? Number(string name) => !match.Groups[name].Success ? null
            : int.TryParse(match.Groups[name].ValueSpan, NumberStyles.None, CultureInfo.InvariantCulture, out var bar) && bar <= FormPlan.MostBars ? bar : 0;
        var first = last.Success ? 0 : Number("first")!.Value;
        var end = last.Success ? Number("bars") ?? 1 : Number("last") ?? first;
        var target = body[..match.Index].Trim();
        if (end < 1 || (!last.Success && (first < 1 || end < first)))
        {
            problem = $"{Words.Quote(text.Value)} does not take bars in order";
        }
        else if (!target.StartsWith("to ", StringComparison.OrdinalIgnoreCase))
        {
            problem = $"{Words.Quote(text.Value)} does not move to a tempo";
        }
        else if (TryMark(target[3..], out var to, out problem))
        {
            return new TempoRise(to, first, end) { After = after };
        }

        problems.Add(text.PlaceOf(0), problem, AcceptedRise);
        return null;
    }

    // Takes ", then a tempo" or ", then quarter = 120" off the end.
    private static bool TryAfter(ref string body, out TempoAfter? after, [NotNullWhen(false)] out string? problem)
    {
        (after, problem) = (null, null);
        if (Then().Match(body) is not { Success: true } match)
        {
            return true;
        }

        var then = match.Groups["then"].Value.Trim();
        body = body[..match.Index].TrimEnd();
        if (string.Equals(then, ATempo, StringComparison.OrdinalIgnoreCase))
        {
            after = new TempoAfter(null);
            return true;
        }

        if (!TryMark(then, out var mark, out problem))
        {
            return false;
        }

        after = new TempoAfter(mark);
        return true;
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

        return string.Join(' ', parts) + Write(change.After);
    }

    internal static string Write(TempoRise rise) => $"to {Write(rise.To)} over "
        + (rise.First > 0
            ? rise.First == rise.Last ? string.Create(CultureInfo.InvariantCulture, $"bar {rise.First}")
                : string.Create(CultureInfo.InvariantCulture, $"bars {rise.First} to {rise.Last}")
            : rise.Last == 1 ? "the last bar" : string.Create(CultureInfo.InvariantCulture, $"the last {rise.Last} bars"))
        + Write(rise.After);

    /// <summary>All changes of tempo of a section as text: usually one, none for none.</summary>
    internal static IReadOnlyList<string> Write(Section section) =>
        [.. section.Tempo is { } change ? (string[])[Write(change)] : [], .. section.Ramps.Select(Write)];

    private static string Write(TempoAfter? after) => after is not { } then ? string.Empty : ", then " + (then.Mark is { } mark ? Write(mark) : ATempo);

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

    [GeneratedRegex(@"\s+over\s+(the\s+)?last\s+((?<bars>\d+)\s+)?bars?$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex OverLast();

    [GeneratedRegex(@"\s+over\s+bars?\s+(?<first>\d+)(\s*(to|-|–)\s*(?<last>\d+))?$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex OverBars();

    [GeneratedRegex(@"\s*,\s*then\s+(?<then>.+)$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex Then();

    [GeneratedRegex(@"\s*(bpm|a minute|per minute)$", RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture, 1000)]
    private static partial Regex PerMinute();
}
