namespace GrooveLab.Exchange.MusicXml;

/// <summary>The limits of reading MusicXML, and why they are as they are. What exceeds one is refused with its place. Work is linear in the
/// size of the text, and the music kept needs at most about 200 MB.</summary>
internal static class MusicXmlLimits
{
    /// <summary>Bytes of a file, packed or not: an hour of orchestral music is about 60 MB of text.</summary>
    public const int MostBytes = 128 << 20;

    /// <summary>Characters of a score, unpacked.</summary>
    public const long MostCharacters = 128L << 20;

    /// <summary>Files in an archive; a score has two, and sometimes parts and pictures.</summary>
    public const int MostEntries = 1_000;

    /// <summary>How many times larger a file may become when unpacked. Scores reach 30 to 100, and the method of packing at most about
    /// 1,030.</summary>
    public const int MostRatio = 400;

    /// <summary>Bytes of an unpacked file below which its ratio does not matter.</summary>
    public const int RatioMattersFrom = 1 << 20;

    /// <summary>Notes, syllables, marks and details kept: 5,000 measures of eighty each. Each needs up to 400 bytes.</summary>
    public const int MostItems = 400_000;

    /// <summary>Measures of a score.</summary>
    public const int MostMeasures = 50_000;

    /// <summary>Parts of a score.</summary>
    public const int MostParts = 256;

    /// <summary>Measures times parts, since each part has each measure.</summary>
    public const int MostPartMeasures = 1_000_000;

    /// <summary>Simultaneous voices of a part in a measure.</summary>
    public const int MostVoices = 64;

    /// <summary>Notes of a chord.</summary>
    public const int MostHeads = 128;

    /// <summary>Elements inside one note, direction or other element of a measure.</summary>
    public const int MostInside = 20_000;

    /// <summary>Nesting of elements; the deepest of the format is about twelve.</summary>
    public const int Deepest = 64;

    /// <summary>Characters of one tag with its attributes, or of the document type.</summary>
    public const int LongestTag = 1 << 16;

    /// <summary>Characters of one text, such as a syllable or a remark.</summary>
    public const int LongestText = 1 << 16;

    /// <summary>Errors, kinds of warnings, and kinds of what was not carried that are listed.</summary>
    public const int MostRemarks = 100;

    /// <summary>Divisions of a quarter note.</summary>
    public const int MostDivisions = 10_000_000;

    /// <summary>Quarter notes of one duration; the longest note has 32.</summary>
    public const int LongestQuarters = 100_000;

    /// <summary>Largest number on a side of a tuplet and of a time signature.</summary>
    public const int LargestCount = 1_024;

    /// <summary>Passes named by one sign, and the largest.</summary>
    public const int MostPasses = 100;

    /// <summary>Measures that wait for the end of a tuplet.</summary>
    public const int MostWaiting = 16;

    /// <summary>Fastest tempo in quarter notes per minute.</summary>
    public const int FastestTempo = 10_000;
}
