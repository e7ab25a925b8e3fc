using GrooveLab.Music.Charts;
using GrooveLab.Music.Recast;

namespace GrooveLab.Exchange.Tests.SongTexts;

/// <summary>A verse and its stresses, as a test writes them.</summary>
internal static class SungLine
{
    /// <summary>One note for each syllable: "lan-terns on~the _ * bay" with - inside a word, ~ between two words on a note, _ for a note that goes on and
    /// * for one without words.</summary>
    public static Syllable?[] Of(string line)
    {
        var verse = new List<Syllable?>();
        var sung = -1;
        foreach (var word in line.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            if (word is "_" or "*")
            {
                if (word == "_")
                {
                    verse[sung] = verse[sung]! with { Notes = verse[sung]!.Notes + 1 };
                }

                verse.Add(null);
                continue;
            }

            var parts = word.Split('-');
            for (var i = 0; i < parts.Length; i++)
            {
                var place = parts.Length == 1 ? SyllablePlace.Single : i == 0 ? SyllablePlace.Begin : i == parts.Length - 1 ? SyllablePlace.End : SyllablePlace.Middle;
                sung = verse.Count;
                verse.Add(new Syllable(parts[i].Replace('~', ' '), place, 1));
            }
        }

        return [.. verse];
    }

    /// <summary>S for stressed, u for unstressed, _ for held and ? for unknown.</summary>
    public static string Text(IEnumerable<SyllableStress> stresses) => string.Concat(stresses.Select(stress => stress switch
    {
        SyllableStress.Stressed => 'S',
        SyllableStress.Unstressed => 'u',
        SyllableStress.Held => '_',
        _ => '?',
    }));
}
