using System.Text;

namespace GrooveLab.SameMusic.Charts;

/// <summary>A random tune with words: exactly full bars, and syllables that fit the notes.</summary>
internal sealed class RandomTune
{
    private static readonly string[][] Words =
    [
        ["lan", "terns"], ["sail"], ["moon"], ["wa", "ter"], ["home"], ["ri", "ver", "side"], ["now"], ["the"], ["val", "ley"], ["far"], ["nev", "er"],
        ["zeph", "yr"], ["light"], ["o", "ver"], ["morn", "ing"], ["sing"], ["e", "ven", "ing"], ["tide"], ["a"], ["row"],
    ];

    private readonly Chance _chance;
    private readonly HashSet<ChartFeature> _features;
    private readonly string[] _scale;
    private readonly List<int> _onsets = [];
    private int _place;
    private string? _tied;

    private RandomTune(Chance chance, HashSet<ChartFeature> features, string[] scale)
    {
        (_chance, _features, _scale) = (chance, features, scale);
        _place = chance.Whole(0, scale.Length - 1);
    }

    /// <summary>The lines of a tune's table.</summary>
    /// <param name="chance">The source of random numbers.</param>
    /// <param name="features">Receives its features.</param>
    /// <param name="scale">The pitches that may be used, low to high.</param>
    /// <param name="bars">The meter of each bar.</param>
    public static string Write(Chance chance, HashSet<ChartFeature> features, string[] scale, IReadOnlyList<RandomMeter> bars)
    {
        var tune = new RandomTune(chance, features, scale);
        var text = new StringBuilder("\n[section.tune]\n");
        var pickup = chance.Percent(40) && bars[0].Units > 2;
        if (pickup)
        {
            features.Add(ChartFeature.Pickup);
            tune._onsets.Add(2);
            text.Append(chance.Percent(50)
                ? $"pickup = \"{tune.Pitch()}:1 {tune.Pitch()}\"\n"
                : $"pickup = \"{tune.Pitch()}:1/{2 * bars[0].Unit} {tune.Pitch()}\"\n");
        }

        text.Append("notes = \"\"\"\n");
        for (var bar = 0; bar < bars.Count; bar++)
        {
            text.Append("| ").Append(tune.Bar(bars, bar)).Append(bar % 4 == 3 || bar == bars.Count - 1 ? " |\n" : " ");
        }

        text.Append("\"\"\"\n");
        var verses = chance.Pick(0, 0, 1, 2, 3);
        if (verses > 0)
        {
            features.UnionWith(verses > 1 ? [ChartFeature.SeveralVerses] : []);
            text.Append("words = [\n");
            for (var verse = 0; verse < verses; verse++)
            {
                text.Append("  \"").Append(tune.Verse()).Append("\",\n");
            }

            text.Append("]\n");
        }

        return text.ToString();
    }

    private string Pitch()
    {
        _place = Math.Clamp(_place + _chance.Whole(-2, 2), 0, _scale.Length - 1);
        return _scale[_place];
    }

    private string Bar(IReadOnlyList<RandomMeter> bars, int bar)
    {
        var meter = bars[bar];
        if (_tied is null && bar > 0 && bars[bar - 1].Text == meter.Text && bar < bars.Count - 1 && _chance.Percent(8))
        {
            _features.Add(ChartFeature.RepeatedTuneBar);
            _onsets.Add(_onsets[^1]);
            return "%";
        }

        if (_tied is null && _chance.Percent(6))
        {
            _features.Add(ChartFeature.Rest);
            _onsets.Add(0);
            return "r";
        }

        var onsets = 0;
        var left = meter.Units;
        var text = new List<string>();
        int? carried = null;
        if (_tied is { } pitch)
        {
            var length = _chance.Whole(1, Math.Min(3, left));
            text.Add($"{pitch}:{length}");
            (carried, left, _tied) = (length, left - length, null);
        }

        while (left > 0)
        {
            var kind = _chance.Whole(1, 100);
            if (kind <= 12)
            {
                text.Add($"{Grace()}{Pitch()}:{(_chance.Percent(50) ? "0.5" : $"1/{2 * meter.Unit}")} {Pitch()}");
                (carried, left, onsets) = (null, left - 1, onsets + 2);
            }
            else if (kind <= 20 && left >= 2)
            {
                text.Add($"{Pitch()}:1.5 {Pitch()}:0.5");
                (carried, left, onsets) = (null, left - 2, onsets + 2);
            }
            else if (kind <= 28 && left >= 2)
            {
                _features.Add(ChartFeature.Tuplet);
                text.Add(_chance.Percent(70) ? $"{{3:2 {Pitch()}:1 {Pitch()} {Pitch()}}}" : $"{{5:4 {Pitch()}:0.5 {Pitch()} {Pitch()} {Pitch()} {Pitch()}}}");
                onsets += text[^1][1] - '0';
                (carried, left) = (null, left - 2);
            }
            else if (kind <= 32 && left >= 3)
            {
                _features.Add(ChartFeature.Tuplet);
                text.Add($"{{2:3 {Pitch()}:1 {Pitch()}}}");
                (carried, left, onsets) = (null, left - 3, onsets + 2);
            }
            else if (kind <= 40)
            {
                _features.Add(ChartFeature.Rest);
                var length = _chance.Whole(1, Math.Min(2, left));
                text.Add($"r:{length}");
                (carried, left) = (null, left - length);
            }
            else if (kind <= 46 && left >= 3)
            {
                _features.Add(ChartFeature.Tie);
                var tied = Pitch();
                text.Add($"{tied}:2~ {tied}:1");
                (carried, left, onsets) = (1, left - 3, onsets + 1);
            }
            else
            {
                var length = _chance.Whole(1, Math.Min(3, left));
                var held = Pitch();
                left -= length;
                onsets++;
                var over = left == 0 && bar < bars.Count - 1 && _chance.Percent(25);
                if (over)
                {
                    _features.Add(ChartFeature.TieOverABarLine);
                    _tied = held;
                }

                text.Add(Grace() + held + (carried == length ? string.Empty : $":{length}") + (over ? "~" : string.Empty));
                carried = length;
            }
        }

        _onsets.Add(onsets);
        return string.Join(' ', text);
    }

    private string Grace()
    {
        if (!_chance.Percent(14))
        {
            return string.Empty;
        }

        if (_chance.Percent(60))
        {
            _features.Add(ChartFeature.GraceNote);
            return $"({Pitch()})";
        }

        _features.Add(ChartFeature.TwoGraceNotes);
        return $"({Pitch()} {Pitch()})";
    }

    private string Verse()
    {
        var lines = _onsets.TrueForAll(count => count > 0) && _chance.Percent(70);
        _features.UnionWith(lines ? [ChartFeature.WordsWithBarLines] : []);
        var text = new StringBuilder();
        string[] word = [];
        var next = 0;
        var sung = false;
        for (var bar = 0; bar < _onsets.Count; bar++)
        {
            for (var onset = 0; onset < _onsets[bar]; onset++)
            {
                var kind = _chance.Whole(1, 100);
                if (sung && kind <= 12)
                {
                    _features.Add(ChartFeature.Melisma);
                    text.Append('_');
                }
                else if (next == word.Length && kind <= 18)
                {
                    _features.Add(ChartFeature.NoteWithoutASyllable);
                    text.Append(" *");
                    sung = false;
                }
                else
                {
                    var begins = next == word.Length;
                    (word, next) = begins ? (_chance.Pick(Words), 0) : (word, next);
                    _features.UnionWith(word.Length > 1 ? [ChartFeature.WordOfSeveralSyllables] : []);
                    text.Append(begins ? " " : "-").Append(word[next++]);
                    sung = true;
                    if (next == word.Length && _chance.Percent(8))
                    {
                        _features.Add(ChartFeature.ElidedWords);
                        text.Append("~the");
                    }
                }
            }

            text.Append(lines && bar < _onsets.Count - 1 ? (next < word.Length ? "- |" : " |") : string.Empty);
            if (lines && next < word.Length)
            {
                // The hyphen is already before the bar line.
                text.Append(' ');
            }
        }

        return text.Replace("- | -", "- | ").ToString().Trim();
    }
}
