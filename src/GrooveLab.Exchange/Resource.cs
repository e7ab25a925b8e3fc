namespace GrooveLab.Exchange;

/// <summary>Texts embedded in the program.</summary>
internal static class Resource
{
    /// <summary>The text of a file embedded under its file name.</summary>
    public static string Text(string name)
    {
        using var stream = typeof(Resource).Assembly.GetManifestResourceStream(name)
            ?? throw new InvalidOperationException($"{name} is not embedded.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }
}
