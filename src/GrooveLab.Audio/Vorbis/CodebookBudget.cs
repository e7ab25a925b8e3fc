namespace GrooveLab.Audio.Vorbis;

/// <summary>What the codebooks of one setup header may hold together: some twenty times what encoders write.</summary>
internal struct CodebookBudget()
{
    private const int MostEntries = 1 << 20;
    private const int MostValues = 1 << 22;

    private long _entries = MostEntries;
    private long _values = MostValues;

    /// <summary>Takes a share.</summary>
    /// <exception cref="InvalidDataException">It is used up.</exception>
    public void Take(long entries, long values)
    {
        _entries -= entries;
        _values -= values;
        if (_entries < 0 || _values < 0)
            throw new InvalidDataException($"its codebooks have more than {MostEntries} entries or {MostValues} values");
    }
}
