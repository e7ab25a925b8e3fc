using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes tempi as musicians do, and in the style of an existing text: with the same note and the words around the
/// number.</summary>
internal static class TempoWords
{
    /// <summary>A tempo in the style of a text.</summary>
    public static string Mark(string was, TempoMark now)
    {
        if (!TempoText.TryMark(was, out var old, out _))
        {
            return TempoText.Write(now);
        }

        if (old == now)
        {
            return was;
        }

        var equals = was.IndexOf('=', StringComparison.Ordinal);
        var (start, end) = NumberIn(was, equals + 1);
        var of = old.Level == now.Level && old.Note == now.Note ? was[..(equals + 1)] : TempoText.Write(now).Split('=')[0] + "=";
        var text = $"{of}{was[(equals + 1)..start]}{TempoText.Number(now.PerMinute)}{was[end..]}";
        return TempoText.TryMark(text, out var read, out _) && read == now ? text : TempoText.Write(now);
    }

    /// <summary>A change of tempo in the style of a text.</summary>
    public static string Change(string was, TempoChange now)
    {
        if (now.After is not null || was.Contains(',', StringComparison.Ordinal))
        {
            return TempoText.Change(TomlString.Of(was), Problems.Unread()) == now ? was : TempoText.Write(now);
        }

        var over = was.LastIndexOf(" over ", StringComparison.OrdinalIgnoreCase);
        var (body, tail) = over < 0 ? (was, string.Empty) : (was[..over], was[over..]);
        var to = body.StartsWith("to ", StringComparison.OrdinalIgnoreCase) ? 0 : body.IndexOf(" to ", StringComparison.OrdinalIgnoreCase);
        var word = to < 0 ? body.Length : body.IndexOf("to ", to, StringComparison.OrdinalIgnoreCase) + 3;
        var first = to < 0 ? body : body[..to];
        var text = (now.From is { } from ? Mark(first, from) : string.Empty)
            + (now.To is not { } target ? string.Empty
                : (to < 0 ? (now.From is null ? "to " : " to ") : body[to..word]) + Second(body[word..], now.From, target))
            + Over(tail, now.OverBars);
        text = text.TrimStart();
        var problems = Problems.Unread();
        return TempoText.Change(TomlString.Of(text), problems) == now ? text : TempoText.Write(now);
    }

    // "eighth = 240 to 320": the second number counts the same note.
    private static string Second(string was, TempoMark? from, TempoMark to)
    {
        if (was.Contains('=', StringComparison.Ordinal) || from is not { } first || (first.Level, first.Note) != (to.Level, to.Note))
        {
            return Mark(was, to);
        }

        var (start, end) = NumberIn(was, 0);
        return was[..start] + TempoText.Number(to.PerMinute) + was[end..];
    }

    private static string Over(string was, int? bars)
    {
        if (bars is not { } count)
        {
            return string.Empty;
        }

        var (start, end) = NumberIn(was, 0);
        return start == end || was[start..end] != count.ToString(CultureInfo.InvariantCulture)
            ? string.Create(CultureInfo.InvariantCulture, $" over {count} {(count == 1 ? "bar" : "bars")}")
            : was;
    }

    private static (int Start, int End) NumberIn(string text, int from)
    {
        var start = from;
        while (start < text.Length && !char.IsAsciiDigit(text[start]))
        {
            start++;
        }

        var end = start;
        while (end < text.Length && (char.IsAsciiDigit(text[end]) || text[end] is '.' or '/'))
        {
            end++;
        }

        return (start, end);
    }
}
