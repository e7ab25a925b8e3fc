using GrooveLab.Music.Notation;

namespace GrooveLab.Exchange.Midi;

/// <summary>The syllables of a MIDI file at the onsets of its notes: lyric events (FF 05), or text events of a karaoke file, in which
/// a slash starts a line, a backslash a paragraph, and an at sign a heading.</summary>
internal sealed class MidiScoreLyrics
{
    private readonly Dictionary<int, Dictionary<long, Lyric>> _byPart = [];

    /// <summary>Reads the syllables.</summary>
    public MidiScoreLyrics(MidiFile file, IReadOnlyList<MidiScorePart> parts, int ticksPerQuarter)
    {
        var hasLyrics = file.Tracks.Any(track => track.Events.Any(IsLyric));
        var isKaraoke = !hasLyrics && file.Tracks.Any(track => track.Events.Any(item => IsText(item) && item.Content.Span is [(byte)'/' or (byte)'\\', ..]));
        for (var t = 0; t < file.Tracks.Count && (hasLyrics || isKaraoke); t++)
        {
            var events = file.Tracks[t].Events
                .Where(item => (hasLyrics ? IsLyric(item) : IsText(item) && item.Content.Span is not [(byte)'@', ..]) && item.Content.Length > 0)
                .Select(item => (item.Tick, item.Text)).ToList();
            if (events.Count > 0)
            {
                Place(Syllables(events), t, parts, Math.Max(1, ticksPerQuarter / 8));
            }
        }
    }

    /// <summary>Syllables without a note near them.</summary>
    public int Lost { get; private set; }

    /// <summary>The lyrics of a part, by the tick of the note's onset; null for none.</summary>
    public IReadOnlyDictionary<long, Lyric>? Of(int part) => _byPart.GetValueOrDefault(part);

    private static bool IsLyric(MidiEvent item) => item is { IsMeta: true, Data1: MetaType.Lyric };

    private static bool IsText(MidiEvent item) => item is { IsMeta: true, Data1: MetaType.Text };

    // A part on the syllables' own track, otherwise the one with the most onsets at the syllables.
    private void Place(List<(long Tick, Lyric Lyric)> syllables, int track, IReadOnlyList<MidiScorePart> parts, int tolerance)
    {
        var best = -1;
        var most = 0;
        for (var p = 0; p < parts.Count; p++)
        {
            if (parts[p].IsPercussion)
            {
                continue;
            }

            var onsets = Onsets(parts[p]);
            var hits = syllables.Count(one => Nearest(onsets, one.Tick, tolerance) >= 0);
            if (parts[p].Track == track && hits > 0)
            {
                best = p;
                break;
            }

            if (hits > most || (hits == most && hits > 0 && parts[p].Notes.Count < parts[best].Notes.Count))
            {
                (best, most) = (p, hits);
            }
        }

        if (best < 0)
        {
            Lost += syllables.Count;
            return;
        }

        if (!_byPart.TryGetValue(best, out var placed))
        {
            _byPart.Add(best, placed = []);
        }

        var chosen = Onsets(parts[best]);
        foreach (var (tick, lyric) in syllables)
        {
            var at = Nearest(chosen, tick, tolerance);
            Lost += at >= 0 && placed.TryAdd(at, lyric) ? 0 : 1;
        }
    }

    private static long[] Onsets(MidiScorePart part) => [.. part.Notes.Select(note => note.On).Distinct()];

    private static long Nearest(long[] onsets, long tick, int tolerance)
    {
        var index = Array.BinarySearch(onsets, tick);
        if (index >= 0)
        {
            return tick;
        }

        index = ~index;
        var after = index < onsets.Length ? onsets[index] - tick : long.MaxValue;
        var before = index > 0 ? tick - onsets[index - 1] : long.MaxValue;
        return Math.Min(after, before) > tolerance ? -1 : after <= before ? onsets[index] : onsets[index - 1];
    }

    // Where some syllable carries a space, words end at spaces and lines; otherwise words go on at hyphens only.
    private static List<(long Tick, Lyric Lyric)> Syllables(List<(long Tick, string Text)> events)
    {
        var raw = new List<(long Tick, string Text, bool Joins, bool EndsWord, bool EndsLine, bool EndsParagraph)>();
        var hasSpaces = events.Exists(one => one.Text.Trim('\r', '\n', '/', '\\') is var text && text.Trim().Length > 0 && text.Trim().Length < text.Length);
        foreach (var (tick, text) in events)
        {
            var startsParagraph = text.StartsWith('\\');
            var startsLine = startsParagraph || text.StartsWith('/');
            var startsWord = startsLine || text.StartsWith(' ') || text.StartsWith('\r') || text.StartsWith('\n');
            if (startsWord && raw.Count > 0)
            {
                raw[^1] = raw[^1] with { EndsWord = true, EndsLine = raw[^1].EndsLine || startsLine || text[0] is '\r' or '\n', EndsParagraph = raw[^1].EndsParagraph || startsParagraph || text[0] == '\n' };
            }

            var body = startsLine ? text[1..] : text;
            var endsLine = body.EndsWith('\r') || body.EndsWith('\n');
            var endsWord = endsLine || body.EndsWith(' ');
            var plain = body.Trim();
            var joins = plain.Length > 1 && plain.EndsWith('-');
            plain = joins ? plain[..^1] : plain;
            if (plain.Length > 0)
            {
                raw.Add((tick, plain, joins || (hasSpaces && !endsWord), !joins && (endsWord || !hasSpaces), endsLine, body.EndsWith('\n')));
            }
            else if (raw.Count > 0 && endsWord)
            {
                raw[^1] = raw[^1] with { EndsWord = true, EndsLine = raw[^1].EndsLine || endsLine };
            }
        }

        var made = new List<(long, Lyric)>();
        var isInside = false;
        for (var i = 0; i < raw.Count; i++)
        {
            var one = raw[i];
            var goesOn = one.Joins && i + 1 < raw.Count && !(hasSpaces && one.EndsWord);
            var place = (isInside, goesOn) switch
            {
                (false, false) => WordPlace.Single,
                (false, true) => WordPlace.Begin,
                (true, true) => WordPlace.Middle,
                _ => WordPlace.End,
            };
            made.Add((one.Tick, new Lyric { Number = "1", Parts = [new LyricPart(one.Text, place)], EndsLine = one.EndsLine, EndsParagraph = one.EndsParagraph }));
            isInside = goesOn;
        }

        return made;
    }
}
