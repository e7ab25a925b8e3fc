using System.Globalization;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.FromScore;

/// <summary>A line of a score: one voice of a part.</summary>
/// <param name="Part">The index of the part.</param>
/// <param name="Voice">The voice's name.</param>
/// <param name="Name">What the line is called in the chart.</param>
internal sealed record ScoreLine(int Part, string Voice, string Name);

/// <summary>Finds the tune of a score and the other lines that are sung.</summary>
internal static class TuneChoice
{
    private static readonly string[] TuneNames = ["voice", "melody", "vocal", "tune", "singer", "solo", "lead", "soprano", "fiddle", "violin", "flute", "whistle"];

    /// <summary>The tune, then the other sung lines; empty if the score has no pitched notes.</summary>
    /// <param name="music">The score.</param>
    /// <param name="asked">The part's id, name or number from 1; null to choose it.</param>
    /// <exception cref="ChartProblemException">The score has no such part.</exception>
    public static IReadOnlyList<ScoreLine> Lines(WrittenMusic music, string? asked)
    {
        var voices = new List<VoiceFacts>();
        for (var part = 0; part < music.Parts.Count; part++)
        {
            voices.AddRange(VoiceFacts.Of(music.Parts[part], part));
        }

        // A score that names the roles of its parts is of a band: its tune is known, even if there is none.
        var chosen = asked is null ? null : (int?)PartNumber(music, asked);
        var isOfBand = chosen is null && music.Parts.Any(part => part.Role is not null);
        var candidates = voices
            .Where(voice => voice.Notes > 0 && (chosen is null || voice.Part == chosen) && (!isOfBand || music.Parts[voice.Part].Role == Band.Role.Tune))
            .ToList();
        if (candidates.Count == 0)
        {
            return chosen is null ? [] : throw new ChartProblemException($"the part {Name(music, chosen.Value)} has no notes; {Listed(music)}");
        }

        // Words decide; then a telling name; then the highest line that moves.
        var tune = candidates
            .OrderByDescending(voice => voice.Syllables)
            .ThenBy(voice => NameRank(music.Parts[voice.Part].Name))
            .ThenByDescending(voice => 4 * voice.Notes >= candidates.Max(other => other.Notes))
            .ThenByDescending(voice => voice.MeanPitch)
            .First();
        var lines = new List<ScoreLine> { new(tune.Part, tune.Voice, "tune") };
        var taken = new HashSet<string>(StringComparer.OrdinalIgnoreCase) { "tune" };
        foreach (var voice in voices.Where(voice => voice.Syllables > 0 && voice != tune))
        {
            var name = voice.Part == tune.Part ? "second voice" : PlainName(music.Parts[voice.Part].Name) is { Length: > 0 } own ? own : "second voice";
            var free = name;
            for (var number = 2; !taken.Add(free); number++)
            {
                free = string.Create(CultureInfo.InvariantCulture, $"{name} {number}");
            }

            lines.Add(new ScoreLine(voice.Part, voice.Voice, free));
        }

        return lines;
    }

    private static string PlainName(string name)
    {
        var plain = string.Join(' ', name.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        return plain.Length > Band.Part.LongestName ? plain[..Band.Part.LongestName].Trim() : plain;
    }

    private static int NameRank(string name)
    {
        var rank = Array.FindIndex(TuneNames, word => name.Contains(word, StringComparison.OrdinalIgnoreCase));
        return rank < 0 ? TuneNames.Length : rank;
    }

    private static int PartNumber(WrittenMusic music, string asked)
    {
        var wanted = asked.Trim();
        for (var i = 0; i < music.Parts.Count; i++)
        {
            if (string.Equals(music.Parts[i].Id, wanted, StringComparison.OrdinalIgnoreCase))
            {
                return i;
            }
        }

        var named = Enumerable.Range(0, music.Parts.Count)
            .Where(i => string.Equals(music.Parts[i].Name.Trim(), wanted, StringComparison.OrdinalIgnoreCase)).ToList();
        return named.Count > 0 ? named[0]
            : int.TryParse(wanted, NumberStyles.None, CultureInfo.InvariantCulture, out var number) && number >= 1 && number <= music.Parts.Count ? number - 1
            : throw new ChartProblemException($"no part called {Words.Quote(wanted)}; {Listed(music)}");
    }

    private static string Listed(WrittenMusic music) => "parts: " + string.Join(", ", Enumerable.Range(0, music.Parts.Count).Select(i => Name(music, i)));

    private static string Name(WrittenMusic music, int part) => string.Create(
        CultureInfo.InvariantCulture,
        $"{part + 1} {(music.Parts[part].Name.Length > 0 ? PlainName(music.Parts[part].Name) : music.Parts[part].Id)}");

    private sealed record VoiceFacts(int Part, string Voice, int Notes, int Syllables, double MeanPitch)
    {
        public static IEnumerable<VoiceFacts> Of(WrittenPart part, int index)
        {
            var facts = new Dictionary<string, (int Notes, int Syllables, double Pitches, double Time)>(StringComparer.Ordinal);
            var order = new List<string>();
            foreach (var voice in part.Measures.SelectMany(measure => measure.Voices))
            {
                if (!facts.TryGetValue(voice.Name, out var sum))
                {
                    order.Add(voice.Name);
                }

                foreach (var notes in voice.Events.OfType<NotesEvent>())
                {
                    if (notes.IsCue || notes.Grace is not null || !notes.Notes.Any(head => head.Pitch is not null))
                    {
                        continue;
                    }

                    var time = notes.Length.Wholes.ToDouble();
                    sum.Notes++;
                    sum.Syllables += notes.Lyrics.Count(lyric => lyric.Parts.Count > 0);
                    sum.Pitches += time * notes.Notes.Where(head => head.Pitch is not null).Max(head => head.Pitch!.Value.Sound).ToDouble();
                    sum.Time += time;
                }

                facts[voice.Name] = sum;
            }

            return order.Select(name => facts[name] is var sum
                ? new VoiceFacts(index, name, sum.Notes, sum.Syllables, sum.Time > 0 ? sum.Pitches / sum.Time : 0)
                : throw new InvalidOperationException());
        }
    }
}
